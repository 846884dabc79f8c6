"""Small bodies that would grow large or take long.

Each is answered within a second of this process's time and within 64 MB beside its own bytes, and
never with a 500. Seconds are those of the processor, so that a busy machine proves nothing.
"""

from __future__ import annotations

import gzip
import io
import json
import re
import struct
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.service.days import CUTS, STOCK, parts, small_document, small_files

JSON = {"Content-Type": "application/json"}
WITHIN = 1.0
MIB = 1024 * 1024
MEMORY = 64 * MIB
#: How often a body's bytes lie in this process: what sends it is in here too.
COPIES = 5

#: Numbers whose exact value would fill the memory, were it written out.
NUMBERS = ("1e999999999", "-1E+99999999", "1e-999999999", "0.1e999999999", "9" * 4000)


class Watched:
    """A client whose every request is held to its time and memory."""

    def __init__(self, client: TestClient) -> None:
        self._client = client

    def get(self, path: str) -> Any:
        """Not watched."""
        return self._client.get(path)

    def post(self, path: str, **more: Any) -> Any:
        """Send, and hold the answer to both limits."""
        content = more.get("content", b"")
        size = len(content) + sum(len(part[1]) for _, part in more.get("files", ()))
        before = _memory("VmRSS") if _peak_anew() else None
        began = time.process_time()
        answer = self._client.post(path, **more)
        took = time.process_time() - began
        assert took < WITHIN, f"{took:.2f} s"
        if before is not None:
            grown = _memory("VmHWM") - before
            assert grown < MEMORY + COPIES * size, f"{grown / MIB:.0f} MiB"
        assert answer.status_code != 500, answer.text
        return answer


def _peak_anew() -> bool:
    """Begin to look for the most memory anew, where the system lets us."""
    try:
        Path("/proc/self/clear_refs").write_text("5")
    except OSError:
        return False
    return True


def _memory(name: str) -> int:
    found = re.search(rf"{name}:\s+(\d+) kB", Path("/proc/self/status").read_text())
    assert found is not None
    return 1024 * int(found[1])


@pytest.fixture(scope="module")
def client(planned: tuple[TestClient, str]) -> Watched:
    """A client of one service for all bombs, watched: what is refused leaves nothing behind."""
    # The first of all also loads whatever is loaded when it is first needed.
    planned[0].post("/days", files=parts(small_files()))
    return Watched(planned[0])


@pytest.fixture(scope="module")
def checked(planned: tuple[TestClient, str]) -> tuple[Watched, str]:
    """A client of a service that has a plan, watched, and the plan."""
    client, plan = planned
    day = client.get(f"/plans/{plan}").json()["days"][0]
    client.post("/check", json={"days": [day], "plan": {}})
    return Watched(client), plan


@pytest.mark.parametrize("number", NUMBERS, ids=lambda text: text[:12])
@pytest.mark.parametrize(
    "at", ["length", "qty", "width", "joint_step", "price", "on_hand", "nominal", "kerf", "date"]
)
def test_large_numbers_in_a_day(client: Watched, at: str, number: str) -> None:
    day = small_document()
    stock = [{**day["stock"][0]}]
    cut = {**day["cuts"][0], "rule": "jointed"}
    config: dict[str, Any] = {**day["day"], "lumber": {}}
    if at in ("price", "on_hand", "nominal"):
        stock[0][at] = "BOMB"
    elif at == "kerf":
        config["lumber"][at] = "BOMB"
    elif at == "date":
        config[at] = "BOMB"
    else:
        cut[at] = "BOMB"
    text = json.dumps({"day": config, "stock": stock, "cuts": [cut]}).replace('"BOMB"', number)
    answer = client.post("/days", content=text, headers=JSON)
    assert answer.status_code in (400, 422), answer.text


@pytest.mark.parametrize("number", NUMBERS, ids=lambda text: text[:12])
@pytest.mark.parametrize("at", ["count", "cost", "bound", "kerf", "x", "length", "row", "qty"])
def test_large_numbers_in_a_plan(checked: tuple[Watched, str], at: str, number: str) -> None:
    client, plan = checked
    day = client.get(f"/plans/{plan}").json()["days"][0]
    text = client.get(f"/plans/{plan}/plan.json").text
    bomb = re.sub(rf'"{at}": [0-9.]+', f'"{at}": {number}', text, count=1)
    assert bomb != text or at == "qty"
    body = f'{{"days": ["{day}"], "plan": {bomb}}}'
    answer = client.post("/check", content=body, headers=JSON)
    assert answer.status_code in (200, 400), answer.text
    if answer.status_code == 200 and bomb != text:
        assert answer.json()["checks"] is False


def test_large_numbers_in_a_table(checked: tuple[Watched, str]) -> None:
    client, plan = checked
    day = client.get(f"/plans/{plan}").json()["days"][0]
    document = client.get(f"/plans/{plan}/plan.json").json()
    for path, name in (("yield", "yield.csv"), ("stock-order", "stock_order.csv")):
        head, first, *rest = client.get(f"/plans/{plan}/{path}").text.splitlines()
        for column in range(1, first.count(",") + 1):
            cells = first.split(",")
            cells[column] = "1e999999999"
            text = "\n".join([head, ",".join(cells), *rest])
            body = {"days": [day], "plan": document, "tables": {name: text}}
            answer = client.post("/check", json=body)
            assert answer.status_code == 200, answer.text
            assert answer.json()["checks"] is False


# Documents

_HALF = 4 * MIB // 3
DOCUMENTS = {
    "deep lists": b"[" * 500_000,
    "deep objects": b'{"a":' * 300_000,
    "deep and whole": b'{"cuts":' + b"[" * 50_000 + b"]" * 50_000 + b"}",
    "33 deep": b'{"cuts":' + b"[" * 33 + b"]" * 33 + b"}",
    "many objects": b'{"day": {}, "cuts": [' + b"{}," * (2 * _HALF) + b"{}]}",
    "many lists": b'{"day": {}, "cuts": [' + b"[]," * (2 * _HALF) + b"[]]}",
    "many decimals": b'{"day": {}, "cuts": [' + b"1.5," * (2 * _HALF) + b"1.5]}",
    "many keys": b'{"day": {' + b",".join(b'"%d":0' % i for i in range(60_000)) + b"}}",
    "a long word": b'{"day": {"plant": "' + b"x" * MIB + b'"}}',
    "a long number": b'{"day": {"date": ' + b"9" * MIB + b"}}",
    "a long decimal": b'{"day": {"date": 0.' + b"9" * MIB + b"}}",
    "a long key": b'{"' + b"k" * MIB + b'": 1}',
    "escapes": b'{"day": {"plant": "' + b"\\u0041" * 150_000 + b'"}}',
    "half a pair": b'{"day": {"plant": "\\ud800"}}',
    "no text": bytes(range(256)) * 200,
    "UTF-16": json.dumps(small_document()).encode("utf-16"),
    "UTF-32": json.dumps(small_document()).encode("utf-32"),
    "Latin-1": '{"day": {"plant": "é"}}'.encode("latin-1"),
    "zeros": b"\0" * MIB,
    "blanks": b" " * MIB,
    "packed": gzip.compress(b" " * 50 * MIB),
}


@pytest.mark.parametrize("body", DOCUMENTS.values(), ids=DOCUMENTS.keys())
def test_documents_that_are_none(client: Watched, body: bytes) -> None:
    answer = client.post("/days", content=body, headers=JSON)
    assert answer.status_code in (400, 422), answer.text[:300]
    assert len(answer.content) < MIB


@pytest.mark.parametrize("body", DOCUMENTS.values(), ids=DOCUMENTS.keys())
def test_checks_that_are_none(checked: tuple[Watched, str], body: bytes) -> None:
    client, plan = checked
    day = client.get(f"/plans/{plan}").json()["days"][0]
    whole = b'{"days": ["%s"], "plan": %s}' % (day.encode(), body)
    answer = client.post("/check", content=whole, headers=JSON)
    assert answer.status_code in (200, 400, 422), answer.text[:300]
    assert answer.status_code != 200 or answer.json()["checks"] is False


def test_a_packed_body_is_not_unpacked(client: Watched) -> None:
    body = gzip.compress(json.dumps(small_document()).encode())
    answer = client.post("/days", content=body, headers={**JSON, "Content-Encoding": "gzip"})
    assert answer.status_code in (400, 415), answer.text


@pytest.mark.parametrize(
    "plant", ["a\0b", "\0", "\x01", "\u202e", "\ufffe"], ids=["nul", "only", "one", "turn", "none"]
)
def test_characters_that_no_database_keeps(client: Watched, plant: str) -> None:
    day = small_document()
    day["day"] = {**day["day"], "plant": plant}
    answer = client.post("/days", json=day)
    assert answer.status_code == 422, answer.text
    row = {**CUTS[0], "section": plant, "mark": plant}
    answer = client.post("/days", json=small_document(cuts=[row]))
    assert answer.status_code in (201, 422), answer.text


# Workbooks


def packed(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED, repeat: int = 1) -> bytes:
    """A container; `repeat` times the content of each member."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as book:
        for name, content in members.items():
            with book.open(name, "w", force_zip64=True) as entry:
                for _ in range(repeat):
                    entry.write(content)
    return file.getvalue()


def book(sheet: bytes = b"", shared: bytes = b"", head: bytes = b"") -> dict[str, bytes]:
    """The members of a workbook with one sheet `stock`; `head` stands before each document."""
    main = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    of = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    kind = b"application/vnd.openxmlformats-officedocument.spreadsheetml."
    relations = (
        b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    )
    return {
        "[Content_Types].xml": head
        + b'<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        + b'<Default Extension="rels" ContentType='
        + b'"application/vnd.openxmlformats-package.relationships+xml"/>'
        + b'<Override PartName="/xl/workbook.xml" ContentType="%ssheet.main+xml"/>' % kind
        + b'<Override PartName="/xl/s.xml" ContentType="%sworksheet+xml"/>' % kind
        + b'<Override PartName="/xl/t.xml" ContentType="%ssharedStrings+xml"/></Types>' % kind,
        "_rels/.rels": relations
        + b'<Relationship Id="a" Type="%s/officeDocument" Target="xl/workbook.xml"/>' % of
        + b"</Relationships>",
        "xl/workbook.xml": b'%s<workbook %s xmlns:r="%s"><sheets>' % (head, main, of)
        + b'<sheet name="stock" sheetId="1" r:id="a"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": relations
        + b'<Relationship Id="a" Type="%s/worksheet" Target="s.xml"/>' % of
        + b'<Relationship Id="b" Type="%s/sharedStrings" Target="t.xml"/></Relationships>' % of,
        "xl/s.xml": b"%s<worksheet %s><sheetData>%s</sheetData></worksheet>" % (head, main, sheet),
        "xl/t.xml": b"%s<sst %s>%s</sst>" % (head, main, shared),
    }


def _cell(text: bytes) -> bytes:
    return b'<row r="1"><c r="A1" t="inlineStr"><is><t>%s</t></is></c></row>' % text


def laughs() -> bytes:
    """Nine entities, each ten of the one before: three gigabytes of a word."""
    lines = [b'<!ENTITY a0 "laughter ">']
    lines += [b'<!ENTITY a%d "%s">' % (i, b"&a%d;" % (i - 1) * 10) for i in range(1, 9)]
    return b"<!DOCTYPE x [%s]>" % b"".join(lines)


def overlapping(count: int) -> bytes:
    """Many members that all lie at the same place: each seems small, all together are not."""
    whole = packed({"a" * 16: b" " * MIB})
    at = whole.index(b"PK\x01\x02")
    end = whole.index(b"PK\x05\x06")
    one = whole[at:end]
    directory = b"".join(one.replace(b"a" * 16, b"%016d" % i) for i in range(count))
    close = struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, count, count, len(directory), at, 0)
    return whole[:at] + directory + close


def lying() -> bytes:
    """A member that says it is small, and is not."""
    whole = packed({"xl/workbook.xml": b" " * MIB}, repeat=64)
    return whole.replace(struct.pack("<I", 64 * MIB), struct.pack("<I", 1000))


def nested(deep: int) -> bytes:
    """A workbook in a workbook in a workbook."""
    content = packed({"xl/workbook.xml": b" " * MIB}, repeat=20)
    for _ in range(deep):
        content = packed({f"{i}.xlsx": content for i in range(8)})
    return content


WORKBOOKS = {
    "empty": b"",
    "head": b"PK\x03\x04",
    "end": b"PK\x05\x06" + b"\0" * 18,
    "steep": packed({"xl/workbook.xml": b"<x>" + b" " * MIB}, repeat=300),
    "nested": nested(3),
    "overlapping": overlapping(1_000),
    "lying": lying(),
    "many members": packed({f"xl/{i}.xml": b"" for i in range(5_000)}),
    "one name": packed({"[Content_Types].xml": b"<x/>"}) * 50,
    "path": packed({"../../x": b"x", "/etc/passwd": b"x"}),
    "another packing": packed(book(_cell(b"material")), zipfile.ZIP_LZMA),
    "bzip2": packed(book(_cell(b"material")), zipfile.ZIP_BZIP2),
    "entities": packed({"[Content_Types].xml": b"<!DOCTYPE x [<!ENTITY a 'aaaa'>]><x>&a;</x>"}),
    "laughs in the types": packed(book(head=laughs())),
    "laughs in the sheet": packed(
        {**book(), "xl/s.xml": laughs() + book(_cell(b"&a8;"))["xl/s.xml"]}
    ),
    "laughs in the words": packed(
        {**book(), "xl/t.xml": laughs() + book(shared=b"<si><t>&a8;</t></si>")["xl/t.xml"]}
    ),
    "one long entity": packed(
        {
            **book(),
            "xl/s.xml": b'<!DOCTYPE x [<!ENTITY a "%s">]>' % (b"x" * 60_000)
            + book(_cell(b"&a;" * 60_000))["xl/s.xml"],
        }
    ),
    "a file of ours": packed(
        {
            **book(),
            "xl/s.xml": b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
            + book(_cell(b"&a;"))["xl/s.xml"],
        }
    ),
    "deep": packed(book(b"<row>" * 30_000 + b"</row>" * 30_000)),
    "far cell": packed(book(b'<row r="99999999"><c r="XFD99999999"><v>1</v></c></row>')),
    "far rows": packed(book(b"".join(b'<row r="%d"/>' % (i * 10**6) for i in range(1, 200)))),
    "long word": packed(book(_cell(b"".join(b"%x" % (i * 7919) for i in range(300_000))))),
    "large number": packed(book(b'<row r="1"><c r="A1"><v>%s</v></c></row>' % (b"9" * MIB))),
    "zeros": b"\0" * MIB,
}


@pytest.mark.parametrize("content", WORKBOOKS.values(), ids=WORKBOOKS.keys())
def test_workbooks_that_are_none(client: Watched, content: bytes) -> None:
    files = {"monday.xlsx": content, "day.toml": small_files()["day.toml"]}
    answer = client.post("/days", files=parts(files))
    assert answer.status_code == 422, answer.text
    assert len(answer.content) < MIB
    assert "root:" not in answer.text


def test_the_container_of_the_bombs_is_read(client: Watched) -> None:
    """What the bombs are packed into is a workbook: it is refused for what it lacks only."""
    files = {"monday.xlsx": packed(book(_cell(b"material"))), "day.toml": small_files()["day.toml"]}
    answer = client.post("/days", files=parts(files))
    assert answer.status_code == 422
    faults = answer.json()["faults"]
    assert any("monday.xlsx/stock" in fault["file"] for fault in faults), faults


# Tables, rules, bodies

_HEAD = b"section,jig,mark,material,length,width,qty\n"
TABLES = {
    "bytes": b"\xff\xfe\x00",
    "columns": b"section" + b"," * 500_000,
    "cell": b'section,jig\n"' + b"x" * 2_000_000,
    "lines": b"\n" * 1_000_000,
    "twice": b"section,section,section\na,b,c\n",
    "noise": bytes(range(256)) * 1000,
    "one line": b"x" * 4_000_000,
    "a long row": _HEAD + b"a," * 2_000_000,
    "quotes": _HEAD + b'"' * 1_000_000,
    "quotes in turn": _HEAD + b'"a,' * 300_000,
    "unclosed": _HEAD + b'"a\n' * 100_000,
    "tall": _HEAD + b'"' + b"a\n" * 500_000 + b'"\n',
    "short rows": _HEAD + b"a\n" * 20_000,
    "zeros": b"\0" * MIB,
    "zeros within": _HEAD + b"a\0b,j,m,2x4-SPF-2,10,,1\n" * 5_000,
    "UTF-16, no mark": _HEAD.decode().encode("utf-16-le") * 20_000,
    "UTF-32": (_HEAD.decode() * 10_000).encode("utf-32"),
    "half of UTF-16": b"\xff\xfe" + _HEAD.decode().encode("utf-16-le")[:-1],
    "Latin-1": _HEAD + "Änderung,j,m,2x4-SPF-2,10,,1\n".encode("latin-1") * 5_000,
    "marks": b"\xef\xbb\xbf" * 300_000,
    "numbers": _HEAD + b"s,j,m,2x4-SPF-2," + b"9" * 1_000_000 + b",,1\n",
    "slashes": _HEAD + b"s,j,m,2x4-SPF-2," + b"1/" * 900 + b",,1\n",
    "blanks": _HEAD + b"s,j,m,2x4-SPF-2,1" + b" " * 1_900 + b"-,,1\n",
    "pieces": _HEAD + b"s,j,m,2x4-SPF-2,10,,99999999999999999999\n",
}


@pytest.mark.parametrize("walls", TABLES.values(), ids=TABLES.keys())
def test_cut_lists_that_are_none(client: Watched, walls: bytes) -> None:
    answer = client.post("/days", files=parts(small_files(walls=walls)))
    assert answer.status_code == 422
    assert len(answer.content) < 2 * MIB


@pytest.mark.parametrize("stock", TABLES.values(), ids=TABLES.keys())
def test_stocks_that_are_none(client: Watched, stock: bytes) -> None:
    answer = client.post("/days", files=parts(small_files(stock=stock)))
    assert answer.status_code == 422
    assert len(answer.content) < 2 * MIB


@pytest.mark.parametrize(
    "config",
    [
        b"a = " + b"[" * 100_000,
        b"a = " + b"{a=" * 60_000,
        b"a." * 50_000 + b"b = 1",
        b"a.b.c.d.e.f.g.h = 1\n" * 10_000,
        b"[" + b"a." * 30 + b"b]\n" + b"".join(b"a.b.c%d.d = 1\n" % i for i in range(9_000)),
        b"".join(b"[[a%d.b]]\n" % i for i in range(20_000)),
        b"kerf = 1e999999999",
        b"kerf = " + b"9" * 200_000,
        b"kerf = 0x" + b"f" * 200_000,
        b'plant = "' + b"x" * 200_000,
        b"plant = '''" + b"x\n" * 100_000,
        b"\0",
        b"\0" * MIB,
        b"x = 1\n" * 9,
        b"x" * 8_000_000,
        'plant = "é"'.encode("latin-1"),
    ],
    ids=[
        *("deep", "deep tables", "dotted", "dots again", "dotted tables", "tables", "number"),
        *("digits", "hexadecimal", "word", "lines", "nul", "zeros", "twice", "long", "Latin-1"),
    ],
)
def test_configs_that_are_none(client: Watched, config: bytes) -> None:
    answer = client.post("/days", files=parts(small_files(config=config)))
    assert answer.status_code == 422, answer.text
    assert len(answer.content) < MIB


@pytest.mark.parametrize("count", [201, 5_000])
def test_many_files(client: Watched, count: int) -> None:
    files = small_files() | {f"cuts/{i}.csv": _HEAD for i in range(count)}
    answer = client.post("/days", files=parts(files))
    assert answer.status_code in (400, 422), answer.text


_FIELD = b'--b\r\nContent-Disposition: form-data; name="'
MULTIPART = {"Content-Type": "multipart/form-data; boundary=b"}
BODIES = {
    "nothing": b"",
    "no end": b"--b\r\n" * 100_000,
    "only ends": b"--b--\r\n" * 100_000,
    "long head": b'--b\r\nContent-Disposition: form-data; name="'
    + b"x" * MIB
    + b'"\r\n\r\n\r\n--b--',
    "many heads": b"--b\r\n" + b"X: y\r\n" * 100_000 + b"\r\n\r\n--b--",
    "many fields": b'--b\r\nContent-Disposition: form-data; name="a"\r\n\r\n1\r\n' * 5_000
    + b"--b--",
    "a long field": b'--b\r\nContent-Disposition: form-data; name="a"\r\n\r\n'
    + b"x" * 3 * MIB
    + b"\r\n--b--",
    "a long name": b'--b\r\nContent-Disposition: form-data; name="files"; filename="'
    + b"../" * 2_000
    + b'"\r\n\r\nx\r\n--b--',
    "a name of zeros": b'--b\r\nContent-Disposition: form-data; name="files"; filename="a\0.csv"'
    + b"\r\n\r\nx\r\n--b--",
    "dashes": b"-" * MIB,
}


@pytest.mark.parametrize("body", BODIES.values(), ids=BODIES.keys())
def test_multipart_bodies_that_are_none(client: Watched, body: bytes) -> None:
    answer = client.post("/days", content=body, headers=MULTIPART)
    assert answer.status_code in (400, 413, 422), answer.text


def test_many_days_of_one_plan(checked: tuple[Watched, str]) -> None:
    client, plan = checked
    day = client.get(f"/plans/{plan}").json()["days"][0]
    answer = client.post("/plans", json={"days": [day] * 31})
    assert answer.status_code == 422
    assert len(answer.json()["faults"]) == 30


def test_many_words_in_one_row(client: Watched) -> None:
    row = {**CUTS[0], "alt": ";".join(f"x{i}" for i in range(450))}
    answer = client.post("/days", json=small_document(cuts=[row] * 200))
    assert answer.status_code in (400, 422)
    stock = [{**STOCK[0], "material": f"m{i}"} for i in range(3_000)]
    answer = client.post("/days", json=small_document(stock=stock))
    assert answer.status_code in (400, 422)
    assert len(answer.content) < 2 * MIB
