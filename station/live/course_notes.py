"""Follows a session's events: what is told on the screen, kept with a drill, or passed on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from station.coach.events import Event
from station.coach.feel_gap import feel_gap
from station.coach.progress import SessionProgress
from station.coach.rate_check import RateFlag
from station.coach.words import Words
from station.live.record import DrillRun
from station.values import BeltAsked, HopsAsked

RATE_NOTICE_S = 15.0
"""How long in a drill the screen says that its step rate is out of the ordinary."""
TEXTS: Mapping[str, str] = {
    "belt_nobody": "{drill}: nobody confirmed the belt speed",
    "belt_at_most": "{drill}: the belt speed is kept to the maximum",
    "rate_awaited": "{drill}: waiting for the runner's own step rate",
    "rate_no_baseline": "{drill}: no step rate target, as no baseline at this belt speed is known",
    "rate_below_own": "{drill}: the beat is below the runner's own rate at this belt speed",
    "rate_up_at_once": "{drill}: the beat is over 5 % more at one step",
    "rate_up_in_all": "{drill}: the beat is over 10 % more than the runner's own rate at this "
    "belt speed",
    "rate_kept": "{rate} is kept instead",
}
"""What is told, in English, as the session's file has it; a screen has its own language's."""
_RATE_AMISS = {
    "below own rate": "rate_below_own",
    "rises too much at once": "rate_up_at_once",
    "rises too much in all": "rate_up_in_all",
}


class CourseNotes:
    """Reads the events once each. Used by one thread."""

    def __init__(
        self, progress: SessionProgress, notices: dict[str, str], words: Words | None = None
    ) -> None:
        """Begin before the first event.

        Args:
            progress: Whose events.
            notices: Lines for the screen, by what they are about; changed here.
            words: The screen's language; None: English.
        """
        self._words = words
        self._progress = progress
        self._notices = notices
        self._read = 0
        self._asked: list[BeltAsked] = []
        self._hops_asked: list[HopsAsked] = []
        self._hopping = False
        self._kept: dict[str, None] = {}
        self._flagged: tuple[DrillRun, str] | None = None

    @property
    def kept(self) -> tuple[str, ...]:
        """What must be known after the session, too."""
        return tuple(self._kept)

    def take_asked(self) -> tuple[BeltAsked, ...]:
        """Return the belt settings asked for since the last call; a belt that is to stand is none.

        Nobody drives a belt to a halt by this: whoever sets it looks to the runner first.
        """
        asked, self._asked = tuple(self._asked), []
        return asked

    def take_hops_asked(self) -> tuple[HopsAsked, ...]:
        """Return the hops that began or ended since the last call."""
        asked, self._hops_asked = tuple(self._hops_asked), []
        return asked

    def follow(self, runs: Sequence[DrillRun]) -> None:
        """Read the new events.

        Args:
            runs: The drills as they were run so far.
        """
        for event in self._progress.log.since(self._read):
            self._read += 1
            values = dict(event.values)
            if event.kind in ("drill started", "belt confirmed"):
                self._ask_hops()
            if event.kind == "belt asked":
                self._notices.pop("belt", None)
                self._take_asked(event)
            elif event.kind == "belt confirmed":
                if runs:
                    runs[-1].belt_confirmed = str(values["by"])
                if values["by"] == "nobody":
                    self._tell("belt", "belt_nobody")
            elif event.kind == "belt limited":
                self._tell("belt_limit", "belt_at_most")
            elif event.kind == "felt answered":
                _take_felt(runs, values)

    def tell_rate(
        self, run: DrillRun | None, target_spm: float | None, flag: RateFlag | None
    ) -> None:
        """Say why a drill that sets a step rate has no target yet, or an unusual one.

        Args:
            run: The drill that runs; None: none does.
            target_spm: Its target as it is used; None: there is none.
            flag: What is out of the ordinary about it as it was asked; None: nothing is.
        """
        drill = self._progress.drill
        rate = drill.step_rate
        if run is None or rate is None or target_spm is not None:
            self._notices.pop("rate", None)
        elif rate.own:
            self._notices["rate"] = self._shown("rate_awaited", drill=drill.name)
        else:
            self._notices["rate"] = self._shown("rate_no_baseline", drill=drill.name)
        if run is None or flag is None or target_spm is None:
            self._notices.pop("rate_flag", None)
            return
        if self._flagged != (run, flag.amiss):
            self._flagged = (run, flag.amiss)
            self._flag(run, target_spm, flag)
        if self._progress.elapsed_s >= RATE_NOTICE_S:
            self._notices.pop("rate_flag", None)

    def _flag(self, run: DrillRun, target_spm: float, flag: RateFlag) -> None:
        self._progress.log.note(
            self._progress.now_s, "rate flagged", flag.amiss, number=run.number,
            spm=target_spm, allowed_spm=flag.allowed_spm,
        )  # fmt: skip
        if not run.drill.attended:  # there the coach has given their word
            kept_spm = target_spm if target_spm == flag.allowed_spm else None
            self._tell("rate_flag", _RATE_AMISS[flag.amiss], kept_spm)

    def _tell(self, about: str, key: str, kept_spm: float | None = None) -> None:
        """Show a line and keep it, in English, for the session's file."""
        drill = self._progress.drill.name
        shown, kept = self._shown(key, drill=drill), TEXTS[key].format(drill=drill)
        if kept_spm is not None:
            rate = f"{kept_spm:.0f}"
            shown += f"; {self._shown('rate_kept', rate=rate)}"
            kept += f"; {TEXTS['rate_kept'].format(rate=rate)}"
        self._notices[about] = shown
        self._kept[kept] = None

    def _shown(self, key: str, **values: str) -> str:
        if self._words is None:
            return TEXTS[key].format(**values)
        return self._words.sentence(key, **values)

    def _ask_hops(self) -> None:
        """Ask for a drill's hops once it runs: not while its belt is waited for."""
        drill = self._progress.drill
        if drill.hops and not self._progress.belt_waits:
            self._hops_asked.append(HopsAsked(drill.hops, drill.first_foot))
            self._hopping = True
        elif self._hopping and not drill.hops:
            self._hops_asked.append(HopsAsked(()))
            self._hopping = False

    def _take_asked(self, event: Event) -> None:
        values = dict(event.values)
        speed, incline = values["speed_mps"], values["incline_percent"]
        if isinstance(speed, float) and isinstance(incline, (int, float)):
            self._asked.append(BeltAsked(event.t_s, speed, float(incline)))


def _take_felt(runs: Sequence[DrillRun], values: Mapping[str, object]) -> None:
    """Keep an answer with the drill that it is about."""
    run = next((run for run in reversed(runs) if run.number == values["number"]), None)
    answer, judged, within = values["good_of_ten"], values["judged"], values["within"]
    if run is None or not isinstance(judged, int) or not isinstance(within, int):
        return
    run.felt = feel_gap(answer if isinstance(answer, int) else None, within, judged)
