"""Small exports, one of each format, written out by hand with what must be read from them."""

import io
from datetime import date, datetime
from functools import cache
from pathlib import Path

import openpyxl

from plugins.api import Export, Importer
from plugins.manager import load

JOURNAL = """\
Weighing journal;QL-2
Written;2026-05-07 17:40
Entries;3
No;Time;Sample;Piece;Test;Weighed;Opening mm;Grams;Water °C
1;2026-05-07 09:12:05;HB-0012;1;bulk;dry;;4712,3;
2;2026-05-07 09:31:40;HB-0012;1;bulk;in water;;2742,1;25,1
3;2026-05-07 09:33:02;HB-0013;B;sieving;on sieve;0,075;17,9;
End;3
"""

SLIP = """\
+------------------------------+
STATION                    QL-3
PRINTED        07.05.2026 10:22
TEST             maximum, flask
SAMPLE                  HB-0012
PORTION                       1
DRY IN AIR              1502.4  g
VESSEL FULL             7102.9  g
VESSEL AND MIX          8012.2  g
WATER                     77.0  F
PRESSURE                   3.6  kPa
TAKEN          07.05.2026 10:20
+------------------------------+
+------------------------------+
STATION                    QL-3
PRINTED        07.05.2026 11:02
TEST                       burn
SAMPLE                  HB-0012
PORTION                       2
BEFORE BURN               1.563  kg
AFTER BURN               1477.3  g
TAKEN          07.05.2026 11:00
+------------------------------+
"""

PRESS = """\
PRESS REPORT
machine = GP-1
written = 2026-05-07T11:05
sample = HB-0012
piece = 1
started = 2026-05-07T10:58
stop = gyrations
gyrations = 2
pressure kPa = 600.4
angle deg = 1.160
speed 1/min = 30.0
charge g = 4713
mould mm = 150.00
mix degC = 145

gyration  height mm
0  131.2
1  129.0
2  127.3
end 3
"""

PRESS_JSON = """\
{
  "kind": "gyratory compaction",
  "machine": "GP-2", "written": "2026-05-07T11:05:00",
  "specimen": {"sample": "HB-0012", "piece": "2", "charge_g": 4713.5},
  "settings": {"stop": "height", "pressure_kPa": 600.1, "angle_deg": 1.161, "rate_per_min": 30.0,
    "mould_mm": 150.0, "mix_C": 146},
  "started": "2026-05-07T10:58:00",
  "gyrations": 2,
  "heights_mm": [131.2, 129.0, 127.25]
}
"""

_SIDES = [f"{side}{number}" for side in "LR" for number in range(1, 12)]


def _depths(row: int, right: bool) -> list[str]:
    return [f"{row + (5 if right else 0) + position / 100:.2f}" for position in range(1, 12)]


TRACK = (
    "\ufeffTrack test\tWT-1\nWritten\t2026-05-09 08:10\nStarted\t2026-05-08 15:30\nSample\tHB-0012\nTest\t1\n"
    "Set passes\t20000\nEnded by\tdepth\nLoad N\t705.0\t703.5\nBath set C\t50.0\nBath mean C\t50.1\n"
    "Passes per min\t52.0\nAir voids %\t7.1\t6.9\nRows\t2\n"
    + "\t".join(["pass", *_SIDES])
    + "\n"
    + "".join("\t".join([str(50 * row), *_depths(row, False), *_depths(row, True)]) + "\n" for row in (1, 2))
)


def _readings(right: bool) -> str:
    return "".join(
        f'<reading pass="{50 * row}">' + "".join(f"<d>{depth}</d>" for depth in _depths(row, right)) + "</reading>\n"
        for row in (1, 2)
    )


TRACK_XML = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<trackTest machine="WT-2" written="2026-05-09T08:10:00">\n'
    '<sample id="HB-0012" test="1"/>\n'
    '<run started="2026-05-08T15:30:00" setPasses="20000" endedBy="operator" passesPerMin="52.0"/>\n'
    '<bath set="50.0" mean="122.0" unit="F"/>\n'
    '<wheel side="left" load="703.1" loadUnit="N" airVoids="7.0">\n' + _readings(False) + "</wheel>\n"
    '<wheel side="right" load="0.7" loadUnit="kN" airVoids="6.8">\n' + _readings(True) + "</wheel>\n</trackTest>\n"
).replace('set="50.0"', 'set="122.0"')

FRAME = """\
Frame trace|LF-1
Written|2026-05-12 13:40:00
Started|2026-05-12 13:39:30
Sample|HB-0012
Piece|T4
Test|tensile
Diameter mm|150.1
Thickness mm|95.2
Set mm/min|50.0
Piece C|25.1
State|wet
Freezer h|16.5
reading|s|mm|kN
1|0.00|0.000|0.000
2|0.10|0.083|0.415
3|0.20|0.167|1.052
closed|3
"""

MIX = """\
kind = "mix card"
written = 2026-03-01T08:00:00
mix = "QL-S12"
revision = 2
valid_from = 2026-03-05
project = "NORTH"
nmas_mm = 12.5
binder = "PG 58-28"
gb = 1.026
pb_pct = 5.3
gsb = 2.622
stockpiles = [
  { name = "crushed", share_pct = 80.0, source = "Osk Hill", gsb = 2.63 },
  { name = "sand", share_pct = 20.0 },
]

[gyrations]
initial = 7
design = 75

[gradation]
"19.0" = 100.0
"0.075" = 4.6
"""

LIMITS = """\
kind = "limits card"
written = 2026-02-27T09:00:00
set = "NORTH-26"
valid_from = 2026-01-01

[[limit]]
id = "voids"
property = "air_voids"
material = "mix"
phase = "production"
basis = "from_target"
lower = -1.2
upper = 1.2
required = true
excluding = ["asymmetric", "outlier"]
source = "an invented contract"

[[limit]]
id = "passing"
property = "passing"
at = 0.075
material = "aggregate"
basis = "absolute"
upper = 6
required = false
excluding = []
source = "an invented contract"
mark = "from memory"

[[plan]]
id = "density"
property = "relative_compaction"
material = "core"
basis = "absolute"
lower = 92
pay = "ours"
source = "an invented contract"

[[pay]]
equation = "ours"
piece = 1
measure = "pwl"
form = "pct"
intercept = 55
slope = 0.5
source = "an invented contract"

[[precision]]
property = "gmm"
multilaboratory = 0.0084
source = "an invented contract"

[[applies]]
project = "NORTH"
"""

SAMPLING = """\
kind = "sampling card"
written = 2026-05-04T07:30:00
draw = "NORTH-1"
project = "NORTH"
mix = "QL-S12"
lot = "1"
seed = 417
generator = "a generator"

place = [
  { no = 1, kind = "tonnage", sublot = "1", random_1 = 0.931, tonnage_t = 651.7 },
]
"""

REPORT = """\
{
"kind": "issued report",
"written": "2026-05-04T07:30:00",
"report": "QL-0001-1",
"sample": "QL-0001",
"issue": 1,
"figures_run": 4,
"content": "none",
"version": "0.1.0",
"entry_count": 2,
"entries": [
{"no": 1, "part": "identification", "item": "sample", "text": "QL-0001"},
{"no": 2, "part": "result", "item": "Air voids", "field": "figure", "text": "4.1"}
]
}
"""

SHEETS: dict[str, list[list[object]]] = {
    "About": [["Register of the laboratories"], ["Written", datetime(2026, 5, 1, 16, 30)]],
    "Laboratories": [["Laboratory", "Name", "Region"], ["QL", "Quarry Lane", "north"]],
    "Projects": [
        ["Project", "Name", "Character", "Client", "Laboratory", "Limits"],
        ["NORTH", "North road", None, "a client", "QL", "NORTH-26"],
    ],
    "Samples": [
        ["Sample", "Project", "Mix", "Material", "Phase", "Laboratory", "Lot", "Sublot", "Taken on", "Place",
         "Tonnage t", "Batched binder %"],
        ["QL-0001", "NORTH", "QL-S12", "mix", "production", "QL", 1, "2", date(2026, 4, 30), "plant", 350.5, None],
        [],
        ["QL-0002", "NORTH", "QL-S12", "core", "production", "QL", None, None, "2026-05-01", None, None, None],
    ],
    "Instruments": [["Instrument", "Laboratory", "Kind", "Readability g"], ["QL-2", "QL", "balance", 0.1]],
    "Calibrations": [
        ["Instrument", "Calibrated on", "Due on", "Outcome"],
        ["QL-2", date(2026, 1, 5), date(2027, 1, 4), "accepted"],
    ],
    "Cores": [
        ["Sample", "Core", "Station m", "Offset m", "Lift", "Thickness mm"],
        ["QL-0002", 1, 244.2, -0.5, 1, 73.1],
    ],
}  # fmt: skip


def book(sheets: dict[str, list[list[object]]]) -> bytes:
    """Return the bytes of a workbook with these sheets."""
    made = openpyxl.Workbook()
    made.remove(made.worksheets[0])
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for number, row in enumerate(rows, start=1):
            for column, value in enumerate(row, start=1):
                sheet.cell(number, column, value)
    content = io.BytesIO()
    made.save(content)
    return content.getvalue()


@cache
def examples() -> dict[str, bytes]:
    """Return importer name -> one good export."""
    return {
        "balance_journal": JOURNAL.encode("cp1252"),
        "balance_slip": SLIP.encode("ascii"),
        "press_report": PRESS.encode(),
        "press_json": PRESS_JSON.encode(),
        "track_table": TRACK.encode(),
        "track_xml": TRACK_XML.encode(),
        "register_book": book(SHEETS),
        "frame_trace": FRAME.encode(),
        "mix_card": MIX.encode(),
        "limits_card": LIMITS.encode(),
        "sampling_card": SAMPLING.encode(),
        "report_card": REPORT.encode(),
    }


@cache
def importers() -> dict[str, Importer]:
    """Return the shipped importers by name."""
    return {one.name: one for one in load().importers}


def export(folder: Path, content: bytes | str, name: str = "export") -> Export:
    """Write an export and hand it over as intake does."""
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return Export.from_path(path)
