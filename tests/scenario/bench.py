"""Collects what the benches of a laboratory produce in a day and writes it as the day's exports."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from tests.scenario import mixture, troubles
from tests.scenario.formats import blows, caliper, frame, furnace, pans, press, shaker, slip, tape, track, weighbook
from tests.scenario.formats import journal as journals

_JOURNAL_CLOSES = time(17, 40)


class Bench:
    """All exports of one laboratory."""

    def __init__(self, laboratory: dict[str, Any]) -> None:
        self.laboratory = laboratory
        self.files: dict[str, bytes] = {}
        self._entries: dict[tuple[str, date], list[journals.Entry]] = defaultdict(list)
        self._tickets: dict[tuple[str, date], list[slip.Ticket]] = defaultdict(list)
        self._tape: dict[date, list[press.Press]] = defaultdict(list)
        self._burns: dict[date, list[furnace.Burn]] = defaultdict(list)
        self._shaken: dict[date, list[shaker.Shaken]] = defaultdict(list)
        self._flasks: dict[date, list[weighbook.Flask]] = defaultdict(list)
        self._lengths: dict[date, list[caliper.Length]] = defaultdict(list)
        self._pans: dict[date, list[pans.Pan]] = defaultdict(list)

    def weigh(self, use: str, entry: journals.Entry) -> None:
        """Log a mass on the balance in use (`bulk` or `general`)."""
        self._entries[self.laboratory[f"balance_{use}"], entry.time.date()].append(entry)

    def ticket(
        self, taken: datetime, test: str, sample: str, portion: str, readings: Sequence[tuple[str, float, str]]
    ) -> None:
        """Print a ticket on the balance with the printer, two minutes after the last reading."""
        station = self.laboratory["balance_slip"]
        printed = taken + timedelta(minutes=2)
        ticket = slip.Ticket(station, printed, test, sample, portion, tuple(readings), taken)
        self._tickets[station, taken.date()].append(ticket)

    def weigh_bulk(self, start: datetime, sample: str, piece: str, masses: mixture.Bulk, on_slip: bool) -> None:
        """Record the three weighings of a specimen, in the journal or as a ticket."""
        dry, ssd = masses.dry, masses.ssd
        if troubles.find("swapped_masses", sample, piece):
            dry, ssd = ssd, dry
        if on_slip:
            readings = [
                ("DRY IN AIR", dry, "g"),
                ("IN WATER", masses.submerged, "g"),
                ("SURFACE DRY", ssd, "g"),
                ("WATER", masses.water, "C"),
            ]
            self.ticket(start + timedelta(minutes=6), "bulk", sample, piece, readings)
            return
        rows = (
            ("dry", dry, None, 0),
            ("in water", masses.submerged, masses.water, 260),
            ("surface dry", ssd, None, 325),
        )
        for weighed, grams, water, seconds in rows:
            at = start + timedelta(seconds=seconds)
            self.weigh("bulk", journals.Entry(at, sample, piece, "bulk", weighed, grams, water=water))

    def pressed(self, run: press.Press) -> None:
        """Export one compaction the way this laboratory's compactor does."""
        if self.laboratory["press"] == "tape":
            self._tape[run.started.date()].append(run)
            return
        as_json = self.laboratory["press"] == "json"
        folder, extension = ("press_json", "json") if as_json else ("press_report", "txt")
        content = press.document(run) if as_json else press.report(run)
        self.files[f"{folder}/{run.sample}-{run.piece}.{extension}"] = content

    def tracked(self, run: track.Track) -> None:
        """Export one wheel test the way this laboratory's tracker does."""
        folder, extension, write = _TRACKS[self.laboratory["track"]]
        self.files[f"{folder}/{run.sample}.{extension}"] = write(run)

    def broken(self, run: frame.Trace) -> None:
        """Export the trace of one specimen broken in the load frame."""
        second = self.laboratory["frame"] == "record"
        folder, write = ("frame_record", frame.record) if second else ("frame_trace", frame.trace)
        self.files[f"{folder}/{run.sample}-{run.piece}.txt"] = write(run)

    def burnt(self, burn: furnace.Burn) -> None:
        """Note one charge of the furnace that weighs what it burns."""
        self._burns[burn.out.date()].append(burn)

    def shaken(self, charge: shaker.Shaken) -> None:
        """Note one charge of the sieve shaker with a balance of its own."""
        self._shaken[charge.ended.date()].append(charge)

    def flask(self, portion: weighbook.Flask) -> None:
        """Note one portion in the workbook of the balance."""
        self._flasks[portion.taken.date()].append(portion)

    def measured(self, length: caliper.Length) -> None:
        """Note one length read with the caliper."""
        self._lengths[length.read.date()].append(length)

    def dried(self, pan: pans.Pan) -> None:
        """Note one pan dried to constant mass."""
        self._pans[pan.put_in.date()].append(pan)

    def stepped(self, run: blows.Steps) -> None:
        """Export one specimen compacted in steps."""
        self.files[f"blow_record/{run.sample}-{run.piece}.txt"] = blows.record(run)

    def close(self) -> dict[str, bytes]:
        """Return all files: the days' journals and tickets are written now, each in order of time."""
        line_end = "\r\n" if self.laboratory["crlf"] else "\n"
        for (balance, day), entries in self._entries.items():
            entries.sort(key=lambda entry: entry.time)
            written = datetime.combine(day, _JOURNAL_CLOSES)
            content = journals.journal(balance, written, entries, line_end)
            self.files[f"balance_journal/{balance}-{day:%Y%m%d}.csv"] = content
        for (station, day), tickets in self._tickets.items():
            tickets.sort(key=lambda ticket: ticket.taken)
            self.files[f"balance_slip/{station}-{day:%Y%m%d}.txt"] = slip.slip(tickets)
        self._close_machines()
        self._close_hand_tools()
        return self.files

    def _close_machines(self) -> None:
        house = self.laboratory
        for day, runs in self._tape.items():
            machine, closed = house["press_machine"], datetime.combine(day, _JOURNAL_CLOSES)
            runs.sort(key=lambda run: run.started)
            self.files[f"press_tape/{machine}-{day:%Y%m%d}.prn"] = tape.tape(machine, closed, runs)
        for day, burns in self._burns.items():
            machine, closed = house["furnace"], datetime.combine(day, _JOURNAL_CLOSES)
            burns.sort(key=lambda burn: burn.out)
            self.files[f"furnace_sheet/{machine}-{day:%Y%m%d}.txt"] = furnace.sheet(machine, closed, burns)
        for day, charges in self._shaken.items():
            balance, closed = house["balance_general"], datetime.combine(day, _JOURNAL_CLOSES)
            charges.sort(key=lambda charge: charge.begun)
            self.files[f"shaker_log/{balance}-{day:%Y%m%d}.csv"] = shaker.log(balance, closed, charges)
        for day, portions in self._flasks.items():
            balance, closed = house["balance_slip"], datetime.combine(day, _JOURNAL_CLOSES)
            portions.sort(key=lambda portion: portion.taken)
            self.files[f"balance_book/{balance}-{day:%Y%m%d}.xlsx"] = weighbook.weighbook(balance, closed, portions)

    def _close_hand_tools(self) -> None:
        house = self.laboratory
        for day, lengths in self._lengths.items():
            name, closed = house["caliper"], datetime.combine(day, _JOURNAL_CLOSES)
            lengths.sort(key=lambda length: length.read)
            self.files[f"caliper_log/{name}-{day:%Y%m%d}.csv"] = caliper.log(name, closed, lengths)
        for day, dried in self._pans.items():
            balance, saved = house["balance_general"], datetime.combine(day, _JOURNAL_CLOSES)
            dried.sort(key=lambda pan: pan.put_in)
            self.files[f"oven_pans/{balance}-{day:%Y%m%d}.txt"] = pans.drying_day(balance, saved, dried)


#: How a laboratory's tracker exports -> folder, ending, writer.
_TRACKS = {
    "table": ("track_table", "tsv", track.table),
    "xml": ("track_xml", "xml", track.xml),
    "store": ("track_store", "db", track.store),
}
