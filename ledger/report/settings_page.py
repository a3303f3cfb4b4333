"""The settings of a run as a page to be printed and ticked off while they are set again."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined

from ledger.repeat.result import RepeatResult
from ledger.report.values import tell_how, write_value


def make_settings_page(result: RepeatResult, job: str = "") -> str:
    """Return the sheet of a run as an HTML page that needs nothing else.

    Args:
        result: what `repeat` says of the run.
        job: reference of the job.
    """
    sheet = result.sheet
    pages = Environment(
        loader=PackageLoader("ledger.report", "pages"), autoescape=True, undefined=StrictUndefined
    )
    return pages.get_template("settings.html").render(
        job=job,
        run=result.run,
        readiness=str(result.readiness),
        missing=[f"{item.name}: {item.told}" for item in result.missing],
        command=sheet.command,
        folder=sheet.folder,
        rows=[
            (each.question, each.key, write_value(each.value), tell_how(each.value))
            for each in sheet.settings
        ],
        files=[(file.path, file.sha256, file.rows, file.taken_out) for file in sheet.written],
        inputs=[(used.path, used.role, used.sha256, used.is_there) for used in sheet.inputs],
        not_recorded=sheet.not_recorded,
    )
