"""The files for containers, as far as they can be checked without an engine."""

import json
import re
import subprocess
import sysconfig
from pathlib import Path
from typing import Any

import pytest
import yaml

from parchd.cli.arguments import DEFAULT_CONFIG

DOCKER = Path(__file__).parents[2] / "docker"
DOCKERFILE = (DOCKER / "Dockerfile").read_text()
COMPOSE: dict[str, Any] = yaml.safe_load((DOCKER / "compose.yaml").read_text())
SERVICES: dict[str, dict[str, Any]] = COMPOSE["services"]

each_service = pytest.mark.parametrize("service", SERVICES.values(), ids=SERVICES.keys())


def report(tool: str, *arguments: str | Path) -> str:
    """What a checking tool of our environment prints; nothing if it finds no fault."""
    program = Path(sysconfig.get_path("scripts")) / tool
    done = subprocess.run([program, *arguments], capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


# --- the image


def test_hadolint_finds_no_fault_in_the_dockerfile() -> None:
    assert report("hadolint", DOCKER / "Dockerfile") == ""


def test_the_image_runs_as_a_user_of_its_own() -> None:
    last_stage = DOCKERFILE.rsplit("\nFROM ", maxsplit=1)[1]
    assert re.findall(r"^USER (\S+)$", last_stage, re.MULTILINE) == ["10001:10001"]


def test_the_image_takes_only_libraries_whose_hash_is_known() -> None:
    installs = re.findall(r"pip install (.*?)(?:\\\n|\n|&&)", DOCKERFILE)
    assert len(installs) == 2
    assert all("--require-hashes" in install or "--no-deps --no-index" in install for install in installs)


def test_the_image_reads_the_configuration_that_the_composition_puts_there() -> None:
    (volume,) = [volume for volume in SERVICES["parchd"]["volumes"] if volume.startswith("./parchd.toml:")]
    assert volume == f"./parchd.toml:{DEFAULT_CONFIG}:ro"
    commands = [json.loads(text) for text in re.findall(r"CMD (\[.*\])$", DOCKERFILE, re.MULTILINE)]
    assert commands == [["parchd", "status", str(DEFAULT_CONFIG), "--quiet"], ["run", str(DEFAULT_CONFIG)]]


def test_the_journal_goes_to_the_volume() -> None:
    (home,) = re.findall(r"^VOLUME (\S+)$", DOCKERFILE, re.MULTILINE)
    assert f"STATE_DIRECTORY={home} " in DOCKERFILE
    assert f"journal:{home}" in SERVICES["parchd"]["volumes"]


def test_the_image_can_be_built_on_another_base() -> None:
    assert re.findall(r"^FROM (\S+)", DOCKERFILE, re.MULTILINE) == ["${BASE}", "${BASE}"]


def test_only_sources_are_sent_to_the_engine() -> None:
    first, *rest = [
        line for line in (DOCKER / "Dockerfile.dockerignore").read_text().splitlines() if not line.startswith("#")
    ]
    assert first == "*"
    copied = set(re.findall(r"^COPY (?!--from)(.+) \S+$", DOCKERFILE, re.MULTILINE))
    wanted = {name for names in copied for name in names.split()}
    assert {line[1:] for line in rest if line.startswith("!")} == wanted


# --- the composition


def test_yamllint_finds_no_fault_in_the_compose_file() -> None:
    rules = "{extends: default, rules: {line-length: {max: 120}}}"
    assert report("yamllint", "--strict", "--config-data", rules, DOCKER / "compose.yaml") == ""


@each_service
def test_a_container_has_no_privileges(service: dict[str, Any]) -> None:
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert not {"privileged", "cap_add", "network_mode", "pid", "devices"} & service.keys()


@each_service
def test_a_port_is_open_on_this_machine_only(service: dict[str, Any]) -> None:
    assert all(str(port).startswith("127.0.0.1:") for port in service.get("ports", []))


@each_service
def test_a_container_says_whether_it_is_well(service: dict[str, Any]) -> None:
    assert "healthcheck" in service or ("build" in service and "\nHEALTHCHECK " in DOCKERFILE)


@each_service
def test_an_image_of_others_is_pinned_to_a_major_version(service: dict[str, Any]) -> None:
    assert "build" in service or re.fullmatch(r"[a-z-]+:\d+(\.\d+)*", service["image"])


@each_service
def test_a_service_uses_only_secrets_and_volumes_that_exist(service: dict[str, Any]) -> None:
    assert set(service["secrets"]) <= COMPOSE["secrets"].keys()
    sources = {volume.split(":")[0] for volume in service["volumes"]}
    assert {source for source in sources if not source.startswith(".")} <= COMPOSE["volumes"].keys()
    assert {source for source in sources if source.startswith(".")} <= {"./parchd.toml", "./mosquitto.conf"}


def test_every_secret_is_a_file_that_someone_reads() -> None:
    used = {name for service in SERVICES.values() for name in service["secrets"]}
    assert used == COMPOSE["secrets"].keys()
    assert all(secret == {"file": f"./secrets/{name}"} for name, secret in COMPOSE["secrets"].items())


def test_every_volume_is_used() -> None:
    used = {volume.split(":")[0] for service in SERVICES.values() for volume in service["volumes"]}
    assert COMPOSE["volumes"].keys() <= used


@each_service
def test_no_secret_stands_in_the_environment(service: dict[str, Any]) -> None:
    for name in service.get("environment", {}):
        assert name.endswith("_FILE") or not re.search("PASSWORD|TOKEN|SECRET|KEY", name)


def test_the_page_says_how_each_secret_is_made() -> None:
    page = (DOCKER / "README.md").read_text()
    assert all(re.search(rf"chown \S+ .*secrets/{name}\b", page) for name in COMPOSE["secrets"])


def test_every_file_is_explained_in_the_readme() -> None:
    page = (DOCKER / "README.md").read_text()
    shipped = {"Dockerfile", "Dockerfile.dockerignore", "compose.yaml", "mosquitto.conf"}
    assert all(f"`{name}`" in page and (DOCKER / name).is_file() for name in shipped)
