"""``parchd renew-links``: old links are worth nothing any more."""

from contextlib import closing

from parchd.cli.exits import Exit
from parchd.store.answered import link_key, set_link_key
from parchd.store.database import open_writer
from parchd.testing.commands import Farm, parchd

OLD = bytes(range(32))


def test_links_are_signed_with_another_key_afterwards(quillmere: Farm) -> None:
    with closing(open_writer(quillmere.journal)) as connection:
        set_link_key(connection, OLD)
    said = parchd("renew-links", quillmere.config)
    assert (said.code, said.out) == (Exit.OK, "links that were sent before do nothing any more\n")
    with closing(open_writer(quillmere.journal)) as connection:
        new = link_key(connection)
    assert new is not None
    assert new != OLD
    assert len(new) == 32
    assert new.hex() not in said.out + said.err
