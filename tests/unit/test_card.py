"""The card of a run: what decides the cast, the checks that are not met by name."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solidify.assessment.judge import judge
from solidify.case import demo_case
from solidify.report.card import card_text, overall_text
from solidify.strand.solve import solve


@pytest.fixture(scope="module")
def bloom():
    result = solve(demo_case("bloom"))
    return result, judge(result)


def judged(judgement, **verdicts):
    """The same limit checks with other verdicts for some."""
    return replace(
        judgement,
        findings=tuple(replace(f, verdict=verdicts.get(f.name, "kept")) for f in judgement.findings),
    )


def test_a_hard_limit_not_met_is_named_first(bloom):
    """A hard limit, a soft one and one within its uncertainty: each in words of its own."""
    found = overall_text(
        judged(bloom[1], shell_floor="breached", reheating_rate="breached", straightener_surface="close")
    )
    assert found == (
        "hard limit not met: shell at mould exit; advisory limit not met: reheating rate; "
        "marginal: surface at the straightener"
    )


def test_every_verdict_has_its_word(bloom):
    assert "all" in overall_text(judged(bloom[1]))
    for verdict in ("breached", "close"):
        assert "all" not in overall_text(judged(bloom[1], shell_floor=verdict))


def test_a_real_strand_with_a_breach_says_so():
    """Cast at 1.6 m/min the demo bloom has liquid at the cut-off; what the judgement says stands on the card."""
    result = solve(demo_case("bloom").replace({"casting.speed_m_per_min": 1.6}))
    judgement = judge(result)
    broken = [f.label for f in judgement.findings if f.verdict == "breached"]
    assert any(f.hardness == "hard" for f in judgement.findings if f.verdict == "breached")
    text = " ".join(card_text(result, judgement).split())
    assert "hard limit not met" in text
    assert all(label in text for label in broken)
    assert "not before the cut-off" in text


def test_the_card_has_the_figures_of_the_result(bloom):
    result, judgement = bloom
    text = card_text(result, judgement)
    assert len(text.splitlines()) <= 12
    assert max(map(len, text.splitlines())) <= 100
    assert f"{1000 * result.summary['shell_at_mould_exit'][result.fraction_index(0.7)]:.1f} mm" in text
    assert f"{result.summary['metallurgical_length']:.1f} m from the meniscus" in text
    assert f"{result.summary['specific_water']:.2f} L/kg" in text
    assert judgement.breakout.statement in " ".join(text.split())
