"""Finding adapters by their entry points."""

import subprocess
import sys

import pytest

from parchd.config.registry import UnknownKind, listing, load_kind
from parchd.contract import AdapterKind, Options, RegistryError, Services
from parchd.testing.config_folder import BASE, ConfigFolder, FakeEntryPoint, Installed, changed, line_of


class EmptyOptions(Options):
    pass


def build(options: EmptyOptions, services: Services) -> object:
    return options, services


KIND = AdapterKind(EmptyOptions, build)


def install(monkeypatch: pytest.MonkeyPatch, *entries: FakeEntryPoint) -> None:
    monkeypatch.setattr("parchd.config.registry.entry_points", Installed(sources=entries))


def test_ours_are_listed_like_everybody_elses() -> None:
    assert {"serial-lines", "mqtt", "sim", "replay"} <= set(listing("sources"))
    assert "influxdb" in listing("sinks")
    assert {"email", "webhook"} <= set(listing("notifiers"))


def test_listing_imports_no_adapter() -> None:
    program = (
        "import sys; from parchd.config.registry import listing; "
        "names = [name for group in ('sources', 'sinks', 'notifiers', 'outputs') for name in listing(group)]; "
        "assert names; print([m for m in sys.modules if m.startswith('parchd_adapters')])"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_every_listed_kind_can_be_loaded() -> None:
    for group in ("sources", "sinks", "notifiers"):
        for name, entry in listing(group).items():
            assert isinstance(load_kind({name: entry}, name), AdapterKind)


def test_two_distributions_that_claim_one_name_are_both_named(monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch, FakeEntryPoint("mqtt", KIND), FakeEntryPoint("mqtt", KIND, owner="soil-extras"))
    with pytest.raises(RegistryError, match=r"parchd \(.*soil-extras \("):
        listing("sources")


def test_two_claimants_stop_the_start_with_a_problem(config: ConfigFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch, FakeEntryPoint("mqtt", KIND), FakeEntryPoint("mqtt", KIND, owner="soil-extras"))
    problem = config.problem()
    assert problem.key == "sources"
    assert "soil-extras" in problem.found


def test_one_distribution_found_twice_is_no_conflict(monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch, FakeEntryPoint("mqtt", KIND), FakeEntryPoint("mqtt", KIND))
    assert list(listing("sources")) == ["mqtt"]


def test_an_unknown_kind_lists_the_known_ones_and_guesses() -> None:
    with pytest.raises(UnknownKind) as caught:
        load_kind(listing("sources"), "serial-line")
    assert caught.value.expected == "one of mqtt, replay, serial-lines, sim"
    assert caught.value.hint == "did you mean serial-lines?"


def test_an_unknown_kind_is_a_problem_with_its_line(config: ConfigFolder) -> None:
    text = changed('kind = "serial-lines"', 'kind = "serial"')
    problem = config.problem(text)
    assert (problem.line, problem.key, problem.found) == (line_of('"serial"', text), "sources.bus1.kind", '"serial"')
    assert "serial-lines" in problem.expected


def test_a_missing_kind_is_a_problem(config: ConfigFolder) -> None:
    problem = config.problem(changed('kind = "serial-lines"\n', ""))
    assert (problem.key, problem.line) == ("sources.bus1.kind", line_of("[sources.bus1]", BASE))
    assert problem.expected.startswith("kind: one of mqtt")


@pytest.mark.parametrize("target", [ImportError("no module named gpio"), RuntimeError("boom"), object()])
def test_an_adapter_that_cannot_be_loaded_is_a_problem(
    config: ConfigFolder, monkeypatch: pytest.MonkeyPatch, target: object
) -> None:
    install(monkeypatch, FakeEntryPoint("serial-lines", target, owner="soil-extras"))
    problem = config.problem()
    assert problem.key == "sources.bus1.kind"
    assert "soil-extras" in problem.found


def test_no_adapter_at_all_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch)
    with pytest.raises(UnknownKind, match="none is installed"):
        load_kind(listing("sources"), "mqtt")
