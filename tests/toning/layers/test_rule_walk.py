"""No rule of layering is dead: each can be told in the app and on the command line."""

from pathlib import Path

import pytest

from tests.toning.layers.rule_walk import told_by_app, told_by_commands, where_told
from tonematch.toning.layers.rule_table import Rule, load_rules


@pytest.mark.proof
def test_every_rule_is_told_through_both_faces_and_none_always(tmp_path: Path) -> None:
    silent = Rule("silent", "warning", "Nobody is ever told this of {layer}.", "invented")
    for told in (told_by_app(tmp_path), told_by_commands(tmp_path)):
        assert [rule.id for rule in load_rules() if not where_told(told, rule)] == []
        assert [rule.id for rule in load_rules() if all(where_told([t], rule) for t in told)] == []
        assert not where_told(told, silent)
