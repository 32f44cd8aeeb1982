"""What the painters ask of the words: any object with these two methods will do."""

from __future__ import annotations

from typing import Protocol

LABEL_KEYS: tuple[str, ...] = (
    "within", "ahead", "not_measured", "not_told", "no_marks", "left_foot", "right_foot",
    "steps_per_minute", "faster", "slower", "on_target", "target",
    "early", "late", "on_the_beat", "no_rate",
    "belt", "belt_at", "set_belt", "belt_stands", "steps_left",
    "countdown", "rest", "felt", "paused", "done", "trouble",
    "keys", "key_help", "key_pause", "key_next", "key_previous", "key_repeat", "key_go", "key_rate",
    "key_speed", "key_limit", "key_feedback", "key_sound", "key_felt", "key_strip", "key_still",
    "key_page", "key_end", "still_last", "still_best",
    "belt_now", "belt_unknown", "hops_left", "hop_left", "hop_right", "overload",
    "round", "felt_type", "felt_you", "felt_counted",
    "coach_countdown", "coach_paused", "coach_belt", "coach_felt", "coach_done", "coach_time",
    "coach_steps", "coach_hops", "coach_mastery", "coach_proving", "coach_open", "coach_limit",
    "coach_shank", "coach_within", "coach_judged", "coach_unjudged", "coach_sure", "coach_rate",
    "coach_held", "coach_not_held", "coach_measured", "coach_cues", "coach_given",
    "coach_withheld", "origin_drill", "origin_baseline", "origin_fallback",
    "schedule_every_step", "schedule_fading", "schedule_summary", "schedule_off",
    "flag_no_baseline", "flag_unjudged", "flag_belt_off", "flag_rate_off", "flag_feedback_off",
    "flag_cues_stopped", "flag_rest_asked", "flag_proof_failed",
    "flag_rate_flagged", "flag_rate_kept", "flag_belt_limited",
)  # fmt: skip
"""Every label that this folder shows."""

RUNNING_KEYS: tuple[str, ...] = (
    "reach_less", "reach_less_left", "reach_less_right", "lift_knees", "lift_knee_left",
    "lift_knee_right", "quicker_steps", "slower_steps", "slower_or_rest", "tired", "lean_more",
    "lean_less", "lean_from_ankles", "land_forefoot", "land_midfoot", "let_heel_settle",
    "less_bounce", "good_landings", "steady", "settle_in", "run_as_usual", "follow_beat",
    "follow_beat_stride", "hop_light", "lean_forward", "summary_good", "summary_mixed",
    "summary_ahead", "on_your_own", "learning_view",
)  # fmt: skip
"""Every sentence that may stand under the belt while somebody runs."""


class Wording(Protocol):
    """Gives the words of one language."""

    def label(self, key: str) -> str:
        """Return the short word for `key`."""
        ...

    def sentence(self, key: str, **values: str) -> str:
        """Return the sentence for `key` with its {fields} filled."""
        ...
