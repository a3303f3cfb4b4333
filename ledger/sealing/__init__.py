"""Seals: what is signed, how a signed note is written, and the office's key.

A seal is the size and the root of a book's tree as a tlog-checkpoint, signed as a signed note with
Ed25519 (C2SP signed-note, C2SP tlog-checkpoint, RFC 8032). `keys` alone loads the library that
signs; notes are read and written without it.
"""
