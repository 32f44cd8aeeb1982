"""The rules of a bay that every session there has, coached or not."""

from __future__ import annotations

from station.coach.corrections import CorrectionRule
from station.coach.feedback import FeedbackRule
from station.coach.posture_watch import PostureRule
from station.coach.sentences import SentenceRule
from station.settings.smallest_change import smallest_sizes
from station.values import Bay


def feedback_rule(bay: Bay) -> FeedbackRule:
    """Return how sparing feedback is; bounce is told from its smallest detectable change on."""
    posture = PostureRule(bounce_change_m=smallest_sizes().get("vertical_oscillation_m"))
    sentence = SentenceRule(corrections=CorrectionRule(posture=posture))
    return FeedbackRule(least_gap_s=bay.cue_gap_s, sentence=sentence)
