"""Check a receipt without Swathbook: python verify_receipt.py RECEIPT FILE PUBLIC-KEY

Needs Python and the library `cryptography` for the signature; everything else is SHA-256.
Ends with status 0 and one sentence when everything fits, with 1 when anything does not.
"""

import base64
import hashlib
import json
import sys
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey


def sha256(content):
    return hashlib.sha256(content).digest()


def climb(leaf, index, size, proof):
    """RFC 9162 section 2.1.3.2: the root over a leaf, from its place and the hashes beside it."""
    fn, sn, node = index, size - 1, sha256(b"\0" + leaf)
    for part in map(bytes.fromhex, proof):
        if fn & 1 or fn == sn:
            node = sha256(b"\1" + part + node)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            node = sha256(b"\1" + node + part)
        fn, sn = fn >> 1, sn >> 1
    return node if sn == 0 else b"a proof of another length"


def check(receipt, content, public):
    name, _, key = public.strip().partition("+")
    text, _, lines = receipt["seal"].rpartition("\n\n")
    line = next(s for s in lines.splitlines() if s.startswith(f"\u2014 {name} "))
    Ed25519PublicKey.from_public_bytes(base64.b64decode(key.partition("+")[2])[1:]).verify(
        base64.b64decode(line.split(" ")[2])[4:], f"{text}\n".encode()
    )
    book, size, root = text.splitlines()[:3]
    place, inside = receipt["entry"], receipt["file"]
    entry, file = json.loads(place["body"]), json.loads(inside["leaf"])
    above = climb(place["body"].encode(), place["index"], int(size), place["proof"])
    top = climb(inside["leaf"].encode(), inside["index"], entry["values"]["files"], inside["proof"])
    if above != base64.b64decode(root) or entry["kind"] != "deliverable":
        raise ValueError("the entry does not stand under the seal")
    if top.hex() != entry["values"]["manifest_root"] or file["sha256"] != sha256(content).hex():
        raise ValueError("the file has other bytes, or is not in the manifest")
    return f"{file['path']} is in {entry['values']['deliverable']}, entry {entry['seq']} of {book}"


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit("NOT CHECKED. Call: python verify_receipt.py RECEIPT FILE PUBLIC-KEY")
    try:
        receipt = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
        print(check(receipt, Path(sys.argv[2]).read_bytes(), sys.argv[3]))
    except Exception as error:
        sys.exit(f"NOT PROVEN: {str(error) or 'not signed with this key'} ({type(error).__name__})")
