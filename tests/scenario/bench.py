"""Collects what the benches of a laboratory produce in a day and writes it as the day's exports."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from tests.scenario import mixture, troubles
from tests.scenario.formats import frame, press, slip, track
from tests.scenario.formats import journal as journals

_JOURNAL_CLOSES = time(17, 40)


class Bench:
    """All exports of one laboratory."""

    def __init__(self, laboratory: dict[str, Any]) -> None:
        self.laboratory = laboratory
        self.files: dict[str, bytes] = {}
        self._entries: dict[tuple[str, date], list[journals.Entry]] = defaultdict(list)
        self._tickets: dict[tuple[str, date], list[slip.Ticket]] = defaultdict(list)

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
        as_json = self.laboratory["press"] == "json"
        folder, extension = ("press_json", "json") if as_json else ("press_report", "txt")
        content = press.document(run) if as_json else press.report(run)
        self.files[f"{folder}/{run.sample}-{run.piece}.{extension}"] = content

    def tracked(self, run: track.Track) -> None:
        """Export one wheel test the way this laboratory's tracker does."""
        as_xml = self.laboratory["track"] == "xml"
        folder, extension = ("track_xml", "xml") if as_xml else ("track_table", "tsv")
        self.files[f"{folder}/{run.sample}.{extension}"] = track.xml(run) if as_xml else track.table(run)

    def broken(self, run: frame.Trace) -> None:
        """Export the trace of one specimen broken in the load frame."""
        self.files[f"frame_trace/{run.sample}-{run.piece}.txt"] = frame.trace(run)

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
        return self.files
