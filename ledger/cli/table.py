"""The table of commands: name, module and one line of help.

Nothing is imported for `--help` but this table.
"""

from __future__ import annotations

# In the order of the job, not of the alphabet: that is how a person looks for them.
COMMANDS: dict[str, tuple[str, str]] = {
    "start": ("ledger.cli.start", "Begin a new job: its folder, its book, its job.toml."),
    "sitecard": ("ledger.cli.sitecard", "Before the flight: the numbers to expect at the site."),
    "register": ("ledger.cli.register", "Enter raw files: hash them, read what they say."),
    "record": ("ledger.cli.record", "Record a processing run, a flight or a rig."),
    "amend": ("ledger.cli.amend", "Correct a recorded value; the old one stays, struck through."),
    "audit": ("ledger.cli.audit", "May this folder be sent? Check it against job.toml."),
    "accept": ("ledger.cli.accept", "Take a minor finding, with a reason."),
    "trace": ("ledger.cli.trace", "What made this file? With which settings?"),
    "compare": ("ledger.cli.compare", "What differs between two runs, folders or jobs."),
    "repeat": ("ledger.cli.repeat", "Do a run again: with which settings, and is it the same?"),
    "find": ("ledger.cli.find", "Search the book, or ask it a saved question."),
    "recheck": ("ledger.cli.recheck", "Has anything changed since it was entered?"),
    "handover": ("ledger.cli.handover", "Send a folder on: transmittal, manifest, custody sheet."),
    "seal": ("ledger.cli.seal", "Sign how the book stands, so that nothing can change unseen."),
    "receipt": ("ledger.cli.receipt", "Show that one file is of a sealed deliverable."),
    "support": ("ledger.cli.support", "A bundle for whoever helps, without names and places."),
    "checks": ("ledger.cli.checks", "What is checked, by what, against which criterion."),
    "demo": ("ledger.cli.demo", "Walk the whole job on a made-up site, in a minute."),
}
