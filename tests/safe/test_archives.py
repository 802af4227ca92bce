"""A backup that somebody else made: whatever its archive says, nothing leaves its place.

Elsewhere: wrong digests, bytes changed or missing, members twice or unknown, another way of
packing, lists with rows that cannot be, and each limit of size (unit/services/test_backup,
store/test_backup). The archives here are laid out by hand, as the zip library would not write them
(APPNOTE.TXT 6.3.10 of the zip format, from memory, for the records).
"""

from __future__ import annotations

import stat
import struct
import zlib
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

import pytest

from appraise.services.records.backup import read_backup, restore
from appraise.services.records.backup_file import LARGEST_READ, MANIFEST, MOST_MEMBERS
from appraise.services.records.workspace import Workspace

Members = dict[str, bytes]
ODD = r"is no backup|is damaged|holds what no backup holds|packed as no backup"


Packed = Callable[..., Path]
Refused = Callable[..., None]


# --- names ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "../own_values.toml",
        "../../evil",
        "..\\..\\evil",
        "/etc/passwd",
        "C:\\evil.exe",
        "C:evil",
        "\\\\server\\share",
        "files/../../evil",
        "files/" + "0" * 63 + "/",
        "files/" + "g" * 64,
        "files/" + "0" * 64 + ".exe",
        "files/" + "0" * 64 + "\n",
        "./own_values.toml",
        "OWN_VALUES.TOML",
        "own_values.toml/",
        "CON",
        "evil\x1b[2J\u202egpj",
        "x" * 60_000,
        "",
    ],
    ids=lambda given: repr(given[:20]),
)
def test_a_member_of_any_other_name_is_refused_wherever_it_would_lead(
    honest: Members, packed: Packed, refused: Refused, name: str
) -> None:
    file = packed(honest | {name: b"evil"})

    refused(file, r"holds what no backup holds|is damaged")


def test_a_name_with_nul_in_it_is_not_taken_for_what_stands_before(
    honest: Members, packed: Packed, refused: Refused
) -> None:
    """A reader that stops at the NUL would see the own values twice."""
    name = "own_values.toml0evil"
    file = packed(honest | {name: b"evil"})
    file.write_bytes(file.read_bytes().replace(name.encode(), name.replace("0", "\0").encode()))

    refused(file)


def test_a_link_is_kept_as_the_bytes_that_it_is(
    here: Workspace,
    honest: Members,
    place: Path,
    tmp_path: Path,
    manifest_of: Callable[[Members], bytes],
) -> None:
    """Nothing is ever unpacked into a folder, so a link leads nowhere."""
    target = tmp_path / "dear.toml"
    target.write_text("# dear\n")
    members = honest | {"own_values.toml": str(target).encode()}
    with ZipFile(place, "w", ZIP_DEFLATED) as archive:
        for name, data in (members | {MANIFEST: manifest_of(members)}).items():
            info = ZipInfo(name)
            info.create_system = 3  # Unix, whose kinds of file stand in the upper half
            info.external_attr = (stat.S_IFLNK | 0o777) << 16
            archive.writestr(info, data, ZIP_DEFLATED)
    restore(here, place)

    assert here.own_values.load() == str(target)
    assert target.read_text() == "# dear\n"


# --- sizes ----------------------------------------------------------------------------------------


def record(name: bytes, **given: int) -> bytes:
    """Return an entry of the list of members that says what one likes."""
    told = {"flags": 0, "method": 0, "crc": 0, "packed": 0, "size": 0, "at": 0} | given
    return (
        b"PK\1\2"
        + struct.pack("<HHHHHH", 20, 20, told["flags"], told["method"], 0, 0)
        + struct.pack("<III", told["crc"], told["packed"], told["size"])
        + struct.pack("<HHHHHII", len(name), 0, 0, 0, 0, 0, told["at"])
        + name
    )


def local(name: bytes, data: bytes = b"", flags: int = 0, method: int = 0) -> bytes:
    head = struct.pack("<HHHHHIIIHH", 20, flags, method, 0, 0, 0, 0, 0, len(name), 0)
    return b"PK\3\4" + head + name + data


def end(entries: int, size: int, at: int) -> bytes:
    """Return the end of an archive, in the long form that knows no bound."""
    long = struct.pack("<QHHIIQQQQ", 44, 45, 45, 0, 0, entries, entries, size, at)
    locator = struct.pack("<IQI", 0, at + size, 1)
    short = struct.pack("<HHHHIIH", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0)
    return b"PK\6\6" + long + b"PK\6\7" + locator + b"PK\5\6" + short


def by_hand(file: Path, entries: list[bytes], before: bytes) -> Path:
    listed = b"".join(entries)
    file.write_bytes(before + listed + end(len(entries), len(listed), len(before)))
    return file


def test_a_million_members_are_refused_before_they_are_counted(
    place: Path, refused: Refused
) -> None:
    """Each would become an object of half a kilobyte before anybody could count them."""
    entries = [record(b"%x" % at) for at in range(1_000_000)]
    file = by_hand(place, entries, local(b"a"))

    assert file.stat().st_size > LARGEST_READ
    refused(file, "is larger than any backup")


def test_more_members_than_may_be_are_refused(place: Path, refused: Refused) -> None:
    names = [b"manifest.json", *(b"%x" % at for at in range(MOST_MEMBERS))]
    entries = [record(one) for one in names]

    refused(by_hand(place, entries, local(b"a")), "is larger than any")


@pytest.mark.parametrize("name", ["cases.jsonl", "own_values.toml", "files/" + "0" * 64, MANIFEST])
def test_ten_gigabytes_of_zeros_in_ten_megabytes_are_refused_unopened(
    honest: Members, place: Path, refused: Refused, name: str
) -> None:
    """The most that deflate can do; what the list of members says is believed against it."""
    squeezer = zlib.compressobj(9, zlib.DEFLATED, -15)
    data = b"".join(squeezer.compress(bytes(2**20)) for _ in range(64)) + squeezer.flush()
    entries, before = [], b""
    for member in {**dict.fromkeys(honest, b""), name: data}:
        body = data if member == name else b""
        size = 10 * 2**30 if member == name else 0
        told = {"method": 8, "packed": len(body), "size": min(size, 2**32 - 2), "at": len(before)}
        entries.append(record(member.encode(), **told))
        before += local(member.encode(), body, method=8)

    refused(by_hand(place, entries, before), "unpacks to more than it may")


def test_a_member_that_says_less_than_it_holds_is_not_read_beyond_it(
    honest: Members, place: Path, manifest_of: Callable[[Members], bytes]
) -> None:
    """The list of members says ten bytes; sixty-four megabytes lie there."""
    squeezer = zlib.compressobj(9, zlib.DEFLATED, -15)
    data = b"".join(squeezer.compress(bytes(2**20)) for _ in range(64)) + squeezer.flush()
    members = honest | {"own_values.toml": bytes(10)}
    contents = members | {MANIFEST: manifest_of(members)}
    entries, before = [], b""
    for name, content in contents.items():
        lying = name == "own_values.toml"
        body = data if lying else content
        told = {
            "method": 8 if lying else 0,
            "crc": zlib.crc32(content),
            "packed": len(body),
            "size": len(content),
            "at": len(before),
        }
        entries.append(record(name.encode(), **told))
        before += local(name.encode(), body, method=told["method"])
    file = by_hand(place, entries, before)
    found = read_backup(file)

    assert found.own_values == bytes(10)


def test_members_that_share_their_bytes_are_refused(
    honest: Members, place: Path, refused: Refused
) -> None:
    """One kernel of zeros, named ten thousand times: small in the archive, and without end."""
    entries = [record(b"files/%064x" % at, size=20, packed=20) for at in range(10_000)]
    entries += [record(name.encode()) for name in honest]

    file = by_hand(place, entries, local(b"a", bytes(20)))
    refused(file)


@pytest.mark.parametrize(
    "told",
    [{"packed": 2**32 - 2}, {"at": 2**32 - 2}, {"size": 1_000}, {"method": 12}, {"method": 99}],
    ids=str,
)
def test_a_list_of_members_that_lies_is_refused(
    honest: Members, place: Path, refused: Refused, told: dict[str, int]
) -> None:
    body = honest[MANIFEST]
    given = {"size": len(body), "packed": len(body), "crc": zlib.crc32(body)} | told
    entries = [record(MANIFEST.encode(), **given)]
    file = by_hand(place, entries, local(MANIFEST.encode(), body))

    refused(file)


def test_an_encrypted_member_is_refused(honest: Members, place: Path, refused: Refused) -> None:
    body = honest[MANIFEST]
    told = {"size": len(body), "packed": len(body), "crc": zlib.crc32(body), "flags": 1}
    before = local(MANIFEST.encode(), body, flags=1)
    file = by_hand(place, [record(MANIFEST.encode(), **told)], before)

    refused(file, "encrypted")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"PK",
        b"PK\5\6" + bytes(18),
        bytes(100_000),
        b"PK\5\6" * 20_000,
    ],
    ids=["empty", "two bytes", "no member", "zeros", "ends only"],
)
def test_what_is_no_archive_is_refused(place: Path, refused: Refused, data: bytes) -> None:
    place.write_bytes(data)

    refused(place)


def test_an_archive_in_an_archive_is_not_looked_into(
    honest: Members, packed: Packed, refused: Refused
) -> None:
    inner = packed(honest).read_bytes()

    refused(packed({"all.zip": inner, MANIFEST: honest[MANIFEST]}))


@pytest.mark.parametrize("how", [ZIP_DEFLATED, ZIP_STORED])
def test_the_honest_one_is_put_back(
    here: Workspace,
    honest: Members,
    packed: Packed,
    picture: Callable[..., bytes],
    how: int,
) -> None:
    """So that the others are refused for what is wrong with them."""
    file = packed(honest, how)

    assert "1 photos" in restore(here, file)
    assert here.own_values.load() == "# mine\n"
    assert here.files.get(sha256(picture("PNG")).hexdigest()).content == picture("PNG")
