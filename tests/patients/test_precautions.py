"""Precautions as values, and the protocols that we ship as examples."""

from datetime import date

import pytest

from patients.precaution_protocols import ProtocolError, read_protocol, read_protocols
from patients.precautions import Kind, Span, Standing
from tests.world import FIXTURES

OPERATED = date(2026, 3, 2)
FOLDER = FIXTURES / "protocols"


class TestSpan:
    @pytest.mark.parametrize(
        ("today", "standing"),
        [
            (date(2026, 3, 1), Standing.COMING),
            (date(2026, 3, 2), Standing.HOLDS),
            (date(2026, 4, 12), Standing.HOLDS),
            (date(2026, 4, 13), Standing.REVIEW),
            (date(2027, 1, 1), Standing.REVIEW),
        ],
    )
    def test_weeks_count_from_the_operation(self, today, standing):
        span = Span(from_week=0, until_week=6, week_0=OPERATED)
        assert span.standing(today) is standing

    def test_days_count_as_they_are(self):
        span = Span(from_day=OPERATED, until_day=date(2026, 3, 30))
        assert span.standing(date(2026, 3, 29)) is Standing.HOLDS
        assert span.standing(date(2026, 3, 30)) is Standing.REVIEW

    def test_without_a_day_to_count_from_it_holds(self):
        assert Span(from_week=3, until_week=6).standing(date(2026, 1, 1)) is Standing.HOLDS

    def test_lifted_is_lifted(self):
        assert Span(from_day=OPERATED).standing(OPERATED, is_lifted=True) is Standing.LIFTED


class TestProtocols:
    def test_those_that_we_ship_are_read_whole_and_call_themselves_examples(self):
        protocols, problems = read_protocols(FOLDER)
        assert problems == ()
        assert len(protocols) == 6
        for protocol in protocols:
            assert protocol.is_example
            assert all(proposed.source for proposed in protocol.precautions)

    def test_cuff_repair_by_its_published_weeks(self):
        # Thigpen et al. 2016, J Shoulder Elbow Surg 25:521-535: passive to week 6, strengthening
        # from week 12.
        cuff = read_protocol(FOLDER / "cuff_repair.toml")
        efforts = {
            proposed.until_week: proposed.limit.effort
            for proposed in cuff.precautions
            if proposed.limit.kind is Kind.EFFORT
        }
        assert efforts == {6: "passive", 12: "active"}

    @pytest.mark.parametrize(
        ("was", "becomes", "message"),
        [
            ('effort = "passive"', 'effort = "gentle"', "effort must be one of"),
            ('joint = "shoulder"', 'joint = "hip"', "joint must be one of"),
            ("until_week = 6", "until_week = -1", "until_week must be"),
            ('kind = "bearing"', 'kind = "leaning"', "kind must be one of"),
            ("limit_g = 0", 'limit_g = "none"', "limit_g must be grams"),
            ("is_example = true", "", "is_example must be given"),
            ('kind = "bearing"', 'kind = "bearing"\neffort = "active"', "not a known field"),
            ('["shoulder_adduction", -20], ', '["hip_adduction", -20], ', "at least two"),
            ("[[precautions]]", "[[precautions", "line"),
        ],
    )
    def test_a_mistake_is_named_with_its_file(self, tmp_path, was, becomes, message):
        text = (FOLDER / "cuff_repair.toml").read_text()
        assert was in text
        path = tmp_path / "cuff_repair.toml"
        path.write_text(text.replace(was, becomes))
        with pytest.raises(ProtocolError, match=message) as caught:
            read_protocol(path)
        assert str(caught.value).startswith("cuff_repair.toml: ")
        read, problems = read_protocols(tmp_path)
        assert read == ()
        assert problems == (str(caught.value),)
