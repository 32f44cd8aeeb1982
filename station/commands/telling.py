"""What a command tells while it works and when it is done: a progress line, a closing table."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn
from rich.table import Table

from station.commands.console import OutConsole as OutConsole

if TYPE_CHECKING:
    from station.coach.summary import DrillSummary, LegSummary
    from station.live.record import DrillRun

_REFRESH_S = 0.2
_PLAIN_LINES = 10


class ProgressLine:
    """Tells on the error stream how far a recording is worked through; cameras tell nothing.

    A bar on a terminal, else one plain line every tenth of the way.
    """

    def __init__(self, label: str, total_s: float | None, counted: str = "steps") -> None:
        """Begin at 0.

        Args:
            label: What is worked through.
            total_s: Its length in stream time; None: not known, then nothing is told.
            counted: What is counted beside it.
        """
        self._label = label
        self._counted = counted
        self._total_s = total_s
        self._told = 0
        self._refreshed_s = float("-inf")
        self._bar: Progress | None = None
        self._task: TaskID | None = None
        if total_s is not None and sys.stderr.isatty():
            self._bar = Progress(
                TextColumn(escape(label)),
                BarColumn(),
                TextColumn("{task.percentage:3.0f} %  {task.fields[steps]} " + counted),
                TimeRemainingColumn(),
                console=Console(stderr=True),
                auto_refresh=False,  # no thread of its own
                transient=True,
            )
            self._task = self._bar.add_task(label, total=total_s, steps=0)

    def __enter__(self) -> ProgressLine:
        """Show the bar."""
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.stop()

    def tell(self, t_s: float, steps: int) -> None:
        """Take the newest frame's time and the steps so far."""
        if self._total_s is None:
            return
        if self._bar is not None and self._task is not None:
            now_s = time.monotonic()
            if now_s - self._refreshed_s >= _REFRESH_S:
                self._refreshed_s = now_s
                self._bar.update(self._task, completed=t_s, steps=steps, refresh=True)
            return
        tenths = int(_PLAIN_LINES * t_s / self._total_s + 1e-9)
        if tenths > self._told:
            self._told = tenths
            done = round(100.0 * tenths / _PLAIN_LINES)
            print(f"{self._label}: {done} %, {steps} {self._counted}", file=sys.stderr, flush=True)


def closing_table(runs: list[DrillRun]) -> Table:
    """Build the table of what each drill came to."""
    table = Table(title="What each drill came to", title_justify="left")
    table.add_column("drill")
    heads = (
        "steps",
        "steps/min",
        "limit, deg\nleft / right",
        "within, left",
        "within, right",
        "not judged",
        "on the beat",
    )
    for head in heads:
        table.add_column(head, justify="right")
    for run in runs:
        told = run.summary()
        rate = "-" if told.step_rate_spm is None else f"{told.step_rate_spm:.0f}"
        table.add_row(
            escape(told.name), str(told.landings), rate, _limits(run),
            _within(told.left), _within(told.right),
            str(told.left.unjudged + told.right.unjudged), _locked(told),
        )  # fmt: skip
    return table


def fallback_notice(runs: list[DrillRun]) -> tuple[str, ...]:
    """Return a line where landings were held against a limit that is nobody's own, or none."""
    limits = {
        limit.deg
        for run in runs
        for side in ("left", "right")
        if run.drill.judges and (limit := run.limits.of(side)).origin == "fallback"
    }
    if not limits:
        return ()
    told = ", ".join(f"{deg:g}" for deg in sorted(limits))
    return (
        f"'within' is up to a shank angle of {told} deg where the runner has no baseline and the "
        "drill no limit of its own",
    )


_ORIGINS = {"drill": "set", "baseline": "own", "fallback": "usual"}


def _limits(run: DrillRun) -> str:
    """Return both legs' limits, left first, and where they come from."""
    if not run.drill.judges:
        return "-"
    limits = (run.limits.left, run.limits.right)
    degs = dict.fromkeys(f"{limit.deg:.1f}" for limit in limits)
    return f"{' / '.join(degs)} {' / '.join(dict.fromkeys(_ORIGINS[o.origin] for o in limits))}"


def _within(leg: LegSummary) -> str:
    judged = leg.within + leg.ahead
    return f"{100.0 * leg.within / judged:.0f} % of {judged}" if judged else "-"


def _locked(told: DrillSummary) -> str:
    return "-" if told.beat is None else f"{100.0 * told.beat.share_locked:.0f} %"
