"""The report of a stored result or job as PDF: one page for the customer, the following ones for the lab.

`read_job(path)` reads what is stored, `report_pdf(job, units)` makes the PDF's bytes, `write_report(path, job,
units)` writes it. A valve body's serial number stands in the records beside the job, and is handed over with it.
"""

from rodtrue.report.document import report_pdf, write_report
from rodtrue.report.reading import read_job

__all__ = ["read_job", "report_pdf", "write_report"]
