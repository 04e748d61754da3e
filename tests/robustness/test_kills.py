"""Processes killed at any moment: hundreds with ``-m attacks``, each promise of `robustness.kills`."""

from __future__ import annotations

import pytest
from robustness import kills


@pytest.mark.attacks
@pytest.mark.parametrize(("kind", "wanted"), [("sweep", 500), ("run", 200)])
def test_nothing_is_lost_or_mixed_by_kills(kind, wanted, record_property):
    found = list(kills.KINDS[kind](1, wanted))
    record_property("kills", found[-1][0])
    assert [row for row in found if row[1]] == []
    assert found[-1][0] >= wanted
