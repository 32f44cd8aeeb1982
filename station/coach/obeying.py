"""Does what the coach's commands ask of a session's progress, and notes each of them."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from station.coach.commands import (
    AnswerFelt,
    ChangeBelt,
    ChangeLimit,
    ChangeRate,
    Command,
    ConfirmBelt,
    EndSession,
    NextDrill,
    Pause,
    PreviousDrill,
    RepeatDrill,
    Resume,
    SetFeedback,
    SetSound,
)
from station.coach.course import Change

if TYPE_CHECKING:
    from station.coach.progress import SessionProgress

COMMAND_NAMES: dict[type[Command], str] = {
    NextDrill: "next drill",
    PreviousDrill: "previous drill",
    RepeatDrill: "repeat drill",
    Pause: "pause",
    Resume: "resume",
    ChangeRate: "change rate",
    ChangeBelt: "change belt",
    ConfirmBelt: "confirm belt",
    ChangeLimit: "change limit",
    SetFeedback: "set feedback",
    AnswerFelt: "answer felt",
    SetSound: "set sound",
    EndSession: "end session",
}
"""What an event of kind `coach` says of each command."""


def obey(progress: SessionProgress, command: Command, t_s: float) -> list[Change]:
    """Do what is asked now; what makes no sense changes nothing.

    Args:
        progress: Moved to `t_s`, and not over.
        command: What is asked.
        t_s: Session clock.

    Returns:
        What began and ended, in order.
    """
    progress.log.note(
        t_s, "coach", COMMAND_NAMES[type(command)], number=progress.number, **asdict(command)
    )
    in_drill = not progress.before_first
    if isinstance(command, NextDrill):
        return progress.go(t_s, progress.number + 1 if in_drill else 1)
    if isinstance(command, EndSession):
        return progress.end(t_s)
    if in_drill and isinstance(command, PreviousDrill | RepeatDrill):
        back = progress.number - isinstance(command, PreviousDrill)
        if progress.too_many_hops(max(1, back)):
            _refused(progress, t_s, "the hops of this visit are used up")
            return []
        return progress.go(t_s, max(1, back))
    if isinstance(command, Pause):
        progress.pause(t_s)
    elif isinstance(command, Resume):
        progress.resume(t_s)
    elif isinstance(command, SetSound):
        progress.sound_on = command.on
    elif isinstance(command, AnswerFelt):
        progress.answer_felt(command.good_of_ten, t_s)
    elif isinstance(command, ConfirmBelt):
        if progress.belt_waits:
            progress.confirm_belt("key", t_s)
        else:  # what else the drill stands still for
            progress.end_rest(t_s)
    elif isinstance(command, ChangeRate):
        _refused(progress, t_s, progress.change_rate(command.by_spm))
    elif isinstance(command, ChangeBelt):
        _refused(progress, t_s, progress.change_belt(command.by_tenths, t_s))
    elif isinstance(command, ChangeLimit):
        progress.change_limit(command.by_deg)
    elif isinstance(command, SetFeedback):
        progress.set_feedback(command.on)
    return []


def _refused(progress: SessionProgress, t_s: float, why: str | None) -> None:
    if why is not None:
        progress.log.note(t_s, "refused", why, number=progress.number)
