"""The interface for programs over real HTTP: tokens, acts that count once, errors and answers as described."""

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from starlette.routing import Route

from parchd.alarms.lifecycle import State
from parchd.contract import Do
from parchd.store.standings import history
from parchd.testing.pages import NORTH, TOKENS, Got, ServedFarm
from parchd.testing.site import HOUR_US
from parchd.web.api_models import alarm_model
from parchd.web.application import application
from parchd.web.guard import MOST_WRONG
from parchd.web.openapi import PREFIX, openapi

ALARM = "/alarms/irrigate-now.zone.north"
OPENAPI = Path(__file__).parents[2] / "config" / "openapi.json"


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[ServedFarm]:
    with ServedFarm(tmp_path) as served:
        yield served


def fits(got: Got, path: str, method: str) -> bool:
    """Whether an answer is one that the description tells of; its body is checked against the schema there."""
    described = openapi()
    answer = described["paths"][f"{PREFIX}{path}"][method]["responses"][str(got.status)]
    if "$ref" in answer:
        answer = described["components"]["responses"][answer["$ref"].rpartition("/")[2]]
    schema = answer["content"][got.headers["content-type"]]["schema"]
    whole = {**schema, "components": described["components"]}
    jsonschema.validate(got.json, whole, cls=jsonschema.Draft202012Validator)
    return True


def test_alarms_are_listed_as_they_stand(farm: ServedFarm) -> None:
    got = farm.api("/alarms")
    assert got.status == 200
    assert fits(got, "/alarms", "get")
    (north,) = (one for one in got.json["alarms"] if one["kind"] == "irrigate-now")
    assert (north["id"], north["state"], north["priority"]) == ("irrigate-now.zone.north", "unacknowledged", "high")
    assert north["raised"] == "2026-06-01T04:01:00Z"
    assert got.headers["cache-control"] == "no-store"


def test_an_act_is_done_and_written_down_with_program_and_person(farm: ServedFarm) -> None:
    got = farm.api(f"{ALARM}/acknowledge", {"by": "Ines", "why": "irrigating tonight"})
    assert got.status == 200
    assert fits(got, "/alarms/{alarm}/acknowledge", "post")
    assert got.json["alarm"]["state"] == "acknowledged"
    *_, step = history(farm.connection)
    assert (step.by, step.why, step.via) == ("Ines (plc)", "irrigating tonight", "api")


def test_without_a_person_the_program_did_it(farm: ServedFarm) -> None:
    farm.api(f"{ALARM}/acknowledge", {}, token=TOKENS["panel"])
    assert farm.standing().by == "panel"


def test_every_act_can_be_done(farm: ServedFarm) -> None:
    acts: list[tuple[Do, dict[str, Any], str]] = [
        (Do.SHELVE, {"hours": 4, "why": "harvest"}, "shelved"),
        (Do.UNSHELVE, {}, "unacknowledged"),
        (Do.TAKE_OUT, {"why": "fallow"}, "out-of-service"),
        (Do.PUT_BACK, {}, "unacknowledged"),
        (Do.ACKNOWLEDGE, {}, "acknowledged"),
    ]
    for do, body, state in acts:
        got = farm.api(f"{ALARM}/{do.value}", body)
        assert (got.status, got.json["alarm"]["state"]) == (200, state), got.text
    assert farm.api(f"{ALARM}/reset", {}).status == 409
    assert {do for do, _, _ in acts} | {Do.RESET} == set(Do)


def test_an_act_that_ends_at_rest_leaves_no_alarm_to_show(farm: ServedFarm) -> None:
    farm.read(10.0)
    assert farm.standing().state is State.RETURNED
    got = farm.api(f"{ALARM}/acknowledge", {})
    assert fits(got, "/alarms/{alarm}/acknowledge", "post")
    assert got.json["alarm"] is None


def test_an_episode_that_is_over_is_not_acknowledged_for_the_next(farm: ServedFarm) -> None:
    episode = farm.api("/alarms").json["alarms"][0]["episode"]
    got = farm.api(f"{ALARM}/acknowledge", {"episode": "irrigate-now.zone.north.5"})
    assert (got.status, got.json["code"]) == (409, "refused")
    assert farm.api(f"{ALARM}/acknowledge", {"episode": episode}).status == 200


def test_a_request_that_is_sent_twice_with_its_key_is_done_once(farm: ServedFarm) -> None:
    body = {"hours": 4, "why": "harvest"}
    first = farm.api(f"{ALARM}/shelve", body, idempotency_key='"shift-17"')
    until_us = farm.standing().until_us
    farm.clock.advance(3600.0)
    again = farm.api(f"{ALARM}/shelve", body, idempotency_key="shift-17")
    assert (first.status, again.status) == (200, 200)
    assert again.json["text"] == first.json["text"]
    assert farm.standing().until_us == until_us
    other = farm.api(f"{ALARM}/shelve", {**body, "hours": 5}, idempotency_key="shift-17")
    assert (other.status, other.json["code"]) == (422, "clash")
    assert farm.api(f"{ALARM}/shelve", body, TOKENS["panel"], idempotency_key="shift-17").status == 200
    assert farm.standing().until_us == farm.clock.now_us() + 4 * HOUR_US, "keys of two programs are their own"


@pytest.mark.parametrize(
    ("path", "body", "status", "code"),
    [
        ("/alarms/irrigate-now.zone.south/acknowledge", {}, 404, "unknown"),
        ("/alarms/nonsense/acknowledge", {}, 404, "unknown"),
        (f"{ALARM}/unshelve", {}, 409, "refused"),
        (f"{ALARM}/shelve", {"hours": 4}, 422, "invalid"),
        (f"{ALARM}/shelve", {"hours": 200, "why": "x"}, 422, "invalid"),
        (f"{ALARM}/shelve", {"hours": 0, "why": "x"}, 422, "invalid"),
        (f"{ALARM}/take-out", {"why": "   "}, 409, "refused"),
        (f"{ALARM}/acknowledge", {"by": "x" * 49}, 422, "invalid"),
        (f"{ALARM}/acknowledge", {"valve": 3}, 422, "invalid"),
        (f"{ALARM}/acknowledge", b"[]", 422, "invalid"),
        (f"{ALARM}/acknowledge", b"\xff{", 422, "invalid"),
        (f"{ALARM}/acknowledge", b"[" * 5000, 422, "invalid"),
        (f"{ALARM}/acknowledge", b"x" * 9000, 413, "too-large"),
    ],
)
def test_what_cannot_be_done_is_refused_as_the_description_says(
    farm: ServedFarm, path: str, body: Any, status: int, code: str
) -> None:
    steps = len(list(history(farm.connection)))
    got = farm.api(path, body)
    assert (got.status, got.json["code"]) == (status, code), got.text
    assert fits(got, f"/alarms/{{alarm}}/{path.rpartition('/')[2]}", "post")
    assert len(list(history(farm.connection))) == steps


@pytest.mark.parametrize("kind", ["", "text/plain", "application/x-www-form-urlencoded"])
def test_a_form_of_another_site_is_no_request(farm: ServedFarm, kind: str) -> None:
    got = farm.api(f"{ALARM}/acknowledge", {}, content_type=kind)
    assert (got.status, got.json["code"]) == (415, "invalid")
    assert farm.standing().state is State.UNACKNOWLEDGED


@pytest.mark.parametrize("key", ["", "x" * 101])
def test_a_key_that_names_nothing_is_refused(farm: ServedFarm, key: str) -> None:
    assert farm.api(f"{ALARM}/acknowledge", {}, idempotency_key=key).status == 422


@pytest.mark.parametrize("path", ["/alarms", "/alarms/history", f"{ALARM}/acknowledge"])
@pytest.mark.parametrize("authorization", ["", "Bearer nonsense", "Basic cGxjOng=", f"Bearer {TOKENS['plc']}x"])
def test_without_a_token_nothing_is_told_and_nothing_done(farm: ServedFarm, path: str, authorization: str) -> None:
    body: dict[str, str] | None = {} if path.endswith("acknowledge") else None
    got = farm.api(path, body, authorization=authorization)
    assert (got.status, got.json["code"]) == (401, "unknown")
    assert got.headers["www-authenticate"] == "Bearer"
    assert "north" not in got.text
    assert farm.standing().state is State.UNACKNOWLEDGED


def test_after_ten_wrong_tokens_even_a_right_one_waits_a_minute(farm: ServedFarm) -> None:
    for _ in range(MOST_WRONG):
        assert farm.api("/alarms", token="nonsense").status == 401
    got = farm.api("/alarms")
    assert (got.status, got.json["code"], got.headers["retry-after"]) == (429, "too-many-wrong", "60")
    assert fits(got, "/alarms", "get")
    farm.clock.advance(60.0)
    assert farm.api("/alarms").status == 200


def test_without_tokens_in_the_configuration_the_interface_is_off(tmp_path: Path) -> None:
    with ServedFarm(tmp_path, tokens={}) as farm:
        assert farm.api("/alarms", token="").status == 401
        assert farm.api("/alarms").status == 401
        assert farm.get("/api/v1/openapi.json").status == 200


def test_the_history_comes_page_by_page_in_order(farm: ServedFarm) -> None:
    for hours in (1, 2, 3):
        farm.clock.advance(60.0)
        farm.api(f"{ALARM}/shelve", {"hours": hours, "why": "harvest"})
    whole = farm.api("/alarms/history")
    assert fits(whole, "/alarms/history", "get")
    steps = whole.json["steps"]
    assert [step["happening"] for step in steps if step["alarm"] == NORTH.dotted] == ["raised"] + 3 * ["shelved"]
    assert whole.json["next"] is None
    pages, after = [], 0
    while after is not None:
        page = farm.api(f"/alarms/history?limit=2&after={after}").json
        pages += page["steps"]
        after = page["next"]
    assert pages == steps
    late = farm.api("/alarms/history?since=2026-06-01T04:03:00Z&until=2026-06-01T06:04:00%2B02:00").json["steps"]
    assert [step["at"] for step in late] == ["2026-06-01T04:03:00Z"]


@pytest.mark.parametrize(
    "query", ["limit=0", "limit=1001", "limit=x", "after=-1", "after=9" + "9" * 30, "since=today",
              "since=2026-06-01T04:03:00", "until=", "page=2"],
)  # fmt: skip
def test_a_query_that_is_not_understood_says_what_would_be(farm: ServedFarm, query: str) -> None:
    got = farm.api(f"/alarms/history?{query}")
    assert (got.status, got.json["code"]) == (422, "invalid")
    assert got.json["detail"].startswith(query.partition("=")[0])


def test_what_is_not_there_is_a_problem_too(farm: ServedFarm) -> None:
    assert farm.api("/nonsense").json["code"] == "unknown"
    got = farm.get("/api/v1/alarms", "DELETE", authorization=f"Bearer {TOKENS['plc']}")
    assert (got.status, got.json["code"]) == (405, "invalid")
    assert got.headers["content-type"] == "application/problem+json"


def test_a_journal_that_cannot_be_read_is_told_as_busy(farm: ServedFarm, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr("parchd.web.site.open_reader", broken)
    got = farm.api("/alarms")
    assert (got.status, got.json["code"]) == (503, "busy")
    assert "disk" not in got.text


def test_an_engine_that_takes_long_is_told_as_busy(farm: ServedFarm, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("parchd.web.asking.PATIENCE_S", 0.2)
    farm.answers = False
    got = farm.api(f"{ALARM}/acknowledge", {})
    assert (got.status, got.json["code"]) == (503, "busy")
    assert fits(got, "/alarms/{alarm}/acknowledge", "post")


# --- the description


def test_the_description_is_served_and_is_the_one_that_is_kept(farm: ServedFarm) -> None:
    """After a change: write what ``openapi()`` gives to config/openapi.json, indented by two."""
    assert farm.get("/api/v1/openapi.json").json == openapi()
    assert OPENAPI.read_text("utf-8") == json.dumps(openapi(), indent=2) + "\n"


def test_every_address_that_is_served_is_described_and_no_other(farm: ServedFarm) -> None:
    served = {
        (route.path, method.lower())
        for route in application(farm.site).routes
        if isinstance(route, Route) and route.path.startswith("/api/")
        for method in (route.methods or set()) - {"HEAD"}
    }
    described = {(path, method) for path, methods in openapi()["paths"].items() for method in methods}
    assert served - described == {(f"{PREFIX}/openapi.json", "get")}
    assert described <= served


def test_every_reference_of_the_description_leads_somewhere() -> None:
    text = json.dumps(openapi())
    for reference in {part.partition('"')[0] for part in text.split('"$ref": "#/')[1:]}:
        place: Any = openapi()
        for key in reference.split("/"):
            place = place[key]
        assert place


def test_the_fields_of_an_alarm_are_described(farm: ServedFarm) -> None:
    shown = alarm_model(NORTH, farm.standing(), farm.site.known.alarms.priority(*NORTH))
    assert openapi()["components"]["schemas"]["Alarm"]["properties"].keys() == shown.model_dump().keys()
