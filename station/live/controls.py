"""What a key asks for: the coach's command, an answer on the screen, a view of the coach's own.

A slip must not cost a session: the end is asked for twice. A key that makes no sense now says so.
"""

from __future__ import annotations

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
from station.coach.scene import KeyAnswer
from station.live.answers import END_AGAIN_S, Answers, Standing, refusal
from station.live.coaching import Coaching
from station.live.session import Session

SECOND_DIGIT_S = 1.5
"""How long a typed 1 waits for the 0 that makes it ten."""
PICKED_S = 3.0
"""So long after the clicker's last press the number it has come to is the answer."""
PICKED_FIRST = 5
STILL_S = 8.0
"""How long the last landing stays frozen on the screen, if the key is not pressed again."""
CONFIRM_AFTER_S = 1.0
"""The clicker's forward button confirms the belt only so long after it began to wait: a button
that bounces must not."""
_STEPS: dict[str, Command] = {
    "previous": PreviousDrill(),
    "repeat": RepeatDrill(),
    "rate_up": ChangeRate(1.0),
    "rate_down": ChangeRate(-1.0),
    "speed_up": ChangeBelt(1),
    "speed_down": ChangeBelt(-1),
    "limit_up": ChangeLimit(0.5),
    "limit_down": ChangeLimit(-0.5),
    "next": NextDrill(),
    "forward": NextDrill(),
}


class Controls:
    """Takes the keys of one session. Used by the loop's thread; has no clock."""

    def __init__(self, session: Session, coach_strip: bool = False) -> None:
        """Take keys for a session.

        Args:
            session: Gets the commands.
            coach_strip: Whether the coach's strip is shown from the start.
        """
        self.coach_strip = coach_strip
        self.quit = False
        """The window was closed, or the end was asked for again after the end."""
        self._session = session
        self._answers = Answers()
        self._end_asked_s = float("-inf")
        self._one_typed_s: float | None = None
        self._still_until_s = float("-inf")
        self._belt_waits_since_s: float | None = None
        self._picked: tuple[int, float] | None = None  # by the clicker, and when

    @property
    def typed(self) -> int | None:
        """What the answer has come to: a 1 that waits for a 0, or the clicker's; None: nothing."""
        if self._picked is not None:
            return self._picked[0]
        return None if self._one_typed_s is None else 1

    def answer(self, t_s: float) -> KeyAnswer | None:
        """Return what the last key did, or why it did nothing; None once it is old."""
        return self._answers.now(t_s)

    def still_wanted(self, t_s: float) -> bool:
        """Whether the last landing is to be shown, frozen."""
        return t_s < self._still_until_s

    def tick(self, t_s: float) -> None:
        """Let time pass: a typed 1 that no 0 followed is an answer of one."""
        waits = self._coaching.progress.belt_waits
        if not waits:
            self._belt_waits_since_s = None
        elif self._belt_waits_since_s is None:
            self._belt_waits_since_s = t_s
        if self._picked is not None and t_s - self._picked[1] >= PICKED_S:
            self._felt(self._picked[0], t_s)
        since_s = self._one_typed_s
        if since_s is not None and t_s - since_s >= SECOND_DIGIT_S:
            self._felt(1, t_s)

    def press(self, key: str, t_s: float) -> None:
        """Do what a key asks for.

        Args:
            key: What `show.keys` calls it; an unknown one does nothing.
            t_s: Now, session clock.
        """
        self.tick(t_s)
        if key != "end":
            self._end_asked_s = float("-inf")
        if key == "strip":
            self.coach_strip = not self.coach_strip
        elif key == "still":
            shown = self.still_wanted(t_s)
            self._still_until_s = float("-inf") if shown else t_s + STILL_S
        elif key in ("quit", "end"):
            self._end(key, t_s)
        elif key.isdigit():
            self._digit(int(key), t_s)
        elif key in ("forward", "previous") and self._coaching.progress.asks_felt:
            self._pick(1 if key == "forward" else -1, t_s)
        else:
            command = self._command(key, t_s)
            if command is not None:
                self._do(command, t_s)

    # --- within ---------------------------------------------------------------------------------

    @property
    def _coaching(self) -> Coaching:
        return self._session.coaching

    def _command(self, key: str, t_s: float) -> Command | None:
        progress = self._coaching.progress
        if key == "go":
            return self._go(t_s)
        if key == "pause":
            return Resume() if progress.paused else Pause()
        if key == "sound":
            return SetSound(not progress.sound_on)
        if key == "feedback":
            return SetFeedback(not progress.feedback_on)
        if key == "forward" and progress.belt_waits:
            since_s = self._belt_waits_since_s
            if since_s is None or t_s - since_s < CONFIRM_AFTER_S:
                return None
            return ConfirmBelt()
        return _STEPS.get(key)

    def _go(self, t_s: float) -> Command | None:
        """Return what begins what waits: a typed digit, a pause, the belt."""
        if self._one_typed_s is not None:
            self._felt(1, t_s)
            return None
        return Resume() if self._coaching.progress.paused else ConfirmBelt()

    def _do(self, command: Command, t_s: float) -> None:
        refused = refusal(command, self._coaching)
        if refused is not None:
            self._answers.say(refused, t_s, kind="refused")
            return
        before = Standing.of(self._coaching)
        self._session.command(command)
        self._answers.tell(command, before, Standing.of(self._coaching), t_s)

    def _digit(self, digit: int, t_s: float) -> None:
        if self._coaching.progress.state != "felt":
            self._one_typed_s = None
            self._answers.say("key_no_question", t_s, kind="refused")
        elif self._one_typed_s is not None and digit == 0:
            self._felt(10, t_s)
        elif digit == 1:
            self._one_typed_s = t_s
        else:
            self._felt(digit, t_s)

    def _pick(self, by: int, t_s: float) -> None:
        """Let the clicker's two buttons move the answer up and down."""
        self._one_typed_s = None
        good = PICKED_FIRST if self._picked is None else self._picked[0] + by
        self._picked = min(10, max(0, good)), t_s

    def _felt(self, good: int, t_s: float) -> None:
        self._one_typed_s = self._picked = None
        self._do(AnswerFelt(good), t_s)

    def _end(self, key: str, t_s: float) -> None:
        if self._session.ended is not None:
            self.quit = True
        elif key == "quit":  # the window is gone: there is nothing left to ask on
            self._session.command(EndSession())
            self.quit = True
        elif t_s - self._end_asked_s <= END_AGAIN_S:
            self._session.command(EndSession())
        else:
            self._end_asked_s = t_s
            self._answers.say("key_end_again", t_s, kind="asks")
