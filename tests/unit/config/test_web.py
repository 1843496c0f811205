"""``[web]``: where pages are served, who reaches them, and that no token is ever shown."""

import pytest

from parchd.config.loaded import WebSettings
from parchd.config.report import effective_text, errors_text
from parchd.testing.config_folder import BASE, ConfigFolder, line_of

TOKEN = "f4c1a9d27b6e80355d9e1f60"
OPEN = BASE + '[web]\nlisten = "0.0.0.0:8420"\n'


def with_token(config: ConfigFolder, text: str, token: str = TOKEN) -> str:
    config.write("token", token + "\n").chmod(0o600)
    return text + '[web.tokens.plc]\ntoken_file = "token"\n'


def test_without_the_table_there_are_no_pages(config: ConfigFolder) -> None:
    assert config.load(BASE).web is None


def test_an_empty_table_serves_this_machine_alone_and_no_program(config: ConfigFolder) -> None:
    assert config.load(BASE + "[web]\n").web == WebSettings("127.0.0.1", 8420, None, 7, (), {})


def test_all_its_keys_arrive(config: ConfigFolder) -> None:
    text = BASE + (
        '[web]\nlisten = "[::1]:80"\npublic_url = "https://parchd.quillmere.example/alarms/"\nlink_days = 3\n'
        'proxies = ["10.0.0.7"]\n'
    )
    loaded = config.load(with_token(config, text))
    url = "https://parchd.quillmere.example/alarms"
    assert loaded.web == WebSettings("::1", 80, url, 3, ("10.0.0.7",), {"plc": TOKEN})


def test_what_others_can_reach_needs_a_token(config: ConfigFolder) -> None:
    problem = config.problem(OPEN)
    assert (problem.key, problem.line) == ("web.listen", line_of('listen = "0.0.0.0:8420"', OPEN))
    assert "a token in [web.tokens.NAME]" in problem.expected
    web = config.load(with_token(config, OPEN)).web
    assert web is not None
    assert web.host == "0.0.0.0"


def test_a_token_that_cannot_be_read_is_the_only_problem_then(config: ConfigFolder) -> None:
    problem = config.problem(OPEN + '[web.tokens.plc]\ntoken_file = "nowhere"\n')
    assert problem.key == "web.tokens.plc.token_file"


@pytest.mark.parametrize("token", ["short", "x" * 23, "a token with blanks in it, of length", "t" * 24 + "\u00e4"])
def test_a_token_that_can_be_guessed_or_not_be_sent_is_refused_and_not_shown(config: ConfigFolder, token: str) -> None:
    problem = config.problem(with_token(config, BASE, token))
    assert problem.key == "web.tokens.plc.token"
    assert "openssl rand -hex 24" in problem.expected
    assert token not in str(problem)


def test_a_token_in_clear_is_refused_and_not_shown(config: ConfigFolder) -> None:
    problem = config.problem(BASE + f'[web.tokens.plc]\ntoken = "{TOKEN}"\n')
    assert "a secret in clear" in str(problem)
    assert TOKEN not in str(problem)


def test_a_token_that_is_nowhere_is_missed_with_three_ways_to_give_it(config: ConfigFolder) -> None:
    problem = config.problem(BASE + "[web.tokens.plc]\n")
    assert "PARCHD_WEB__TOKENS__PLC__TOKEN" in problem.hint


def test_a_token_may_come_from_the_environment_or_from_a_credential(config: ConfigFolder) -> None:
    config.environ["PARCHD_WEB__TOKENS__PLC__TOKEN"] = TOKEN
    web = config.load(BASE + "[web]\n").web
    assert web is not None
    assert web.tokens == {"plc": TOKEN}
    config.environ.clear()
    config.credentials = config.write("credentials/web__tokens__plc__token", TOKEN).parent
    web = config.load(BASE + "[web]\n").web
    assert web is not None
    assert web.tokens == {"plc": TOKEN}


def test_a_token_file_that_others_can_read_is_odd(config: ConfigFolder) -> None:
    text = with_token(config, BASE)
    (config.folder / "token").chmod(0o644)
    assert [warning.key for warning in config.load(text).warnings] == ["web.tokens.plc.token_file"]


def test_links_that_are_not_encrypted_are_odd(config: ConfigFolder) -> None:
    (warning,) = config.load(BASE + '[web]\npublic_url = "http://parchd.lan:8420"\n').warnings
    assert warning.key == "web.public_url"
    assert "before the person does" in warning.hint


@pytest.mark.parametrize(
    "line",
    [
        'listen = "localhost:8420"', 'listen = "127.0.0.1"', 'listen = "127.0.0.1:0"', 'listen = "127.0.0.1:70000"',
        'listen = "1.2.3:80"', 'public_url = "parchd.quillmere.example"', 'public_url = "ftp://quillmere.example"',
        'public_url = "https://quillmere.example/?a=b"', 'public_url = "https://quillmere.example/#top"',
        'public_url = "https://"', 'public_url = "https://a b.example"', "link_days = 0", 'proxies = ["gateway"]',
    ],
)  # fmt: skip
def test_what_is_no_address_is_named_with_its_line(config: ConfigFolder, line: str) -> None:
    text = BASE + f"[web]\n{line}\n"
    assert config.problem(text).line == line_of(line, text)


def test_the_effective_values_name_programs_and_never_their_tokens(config: ConfigFolder) -> None:
    loaded = config.load(with_token(config, BASE + '[web]\npublic_url = "https://quillmere.example"\n'))
    text = effective_text(loaded)
    assert "127.0.0.1:8420" in text
    assert "links to https://quillmere.example for 7 days" in " ".join(text.split())
    assert "plc" in text
    for shown in (text, repr(loaded), repr(loaded.settings), errors_text(loaded.warnings)):
        assert TOKEN not in shown
