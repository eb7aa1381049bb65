"""Issued reports: a report that left the laboratory is a fact, kept with every figure it showed."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import ReportPart


class ReportIssue(Traced):
    """One issued report of a sample."""

    report_no: str = column("Number of the report: the sample's label and the number of the issue.")
    sample_id: str = column("Sample it reports.")
    issue_no: pl.Int64 = column("Issue of this sample's report, from 1.", at_least=1)
    figures_run: pl.Int64 = column(
        "Run whose figures it shows.", at_least=1, caution="Runs are counted anew when the warehouse is rebuilt."
    )
    figures_at: pl.Datetime("us") = column(  # type: ignore[valid-type]
        "When that run's figures were stored, UTC.", nullable=True
    )
    replaces: str = column("Report it takes the place of; null for the first.", nullable=True)
    reason: str = column("Why it was issued again; null for the first.", nullable=True)
    remark: str = column("Remark printed on it.", nullable=True)
    content_hash: str = column("SHA-256 of all its entries.")
    version: str = column("Version of mixledger that made it.")

    class Config:
        """Key and ties."""

        metadata = Ties(key=("report_no",), refers={"sample_id": "sample"}).as_metadata()


class ReportEntry(Traced):
    """One thing an issued report showed: in stored units, with a decimal point, whatever it was printed in."""

    report_no: str = column("Report it stands in.")
    entry_no: pl.Int64 = column("Place within the report, from 1.", at_least=1)
    part: str = column("Part of the report.", words=ReportPart)
    item: str = column("What it is about: such as a result, an instrument or a head of the identification.")
    field: str = column(
        "What of it, such as figure, uncertainty or verdict; null where there is one thing.", nullable=True
    )
    text: str = column("What was printed.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("report_no", "entry_no"), refers={"report_no": "report_issue"}).as_metadata()
