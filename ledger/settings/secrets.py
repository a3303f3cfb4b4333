"""Passwords, tokens and user names are taken out of settings before anything is kept.

Only the flat settings of a text are ever kept, never the text: a comment or a broken line cannot
carry a secret along. What is taken out is named, so that nobody takes it for absent.

Which names mean a secret: common practice, no source. Basic credentials: RFC 7617. User
information in addresses: RFC 3986 section 3.2.1. Textual keys: RFC 7468. Signed tokens: RFC 7519.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from itertools import pairwise

from ledger.dataclass import dataclass
from ledger.settings.flat import Setting

TAKEN_OUT = "[taken out]"

# A secret shorter than this is taken out where it stands, and not searched for elsewhere.
_SHORTEST = 4

_CONFIDENTIAL = (
    r"pass ?(?:words?|wd|phrases?|codes?|wort)|pwd|pw|pin ?codes?|pin|secrets?|tokens?|jwt|"
    r"(?:api|access|account|private|secret|shared|encryption|licen[cs]e|activation|product) ?keys?|"
    r"(?:auth|ntrip|caster|user|db|proxy|smtp|ftp|login|mail|wifi|http) ?pass|"
    r"auth|authentication|authorization|authorisation|credentials?|creds?|bearer|cookies?|"
    r"psk|session(?: id)?|signature|sig|hmac|otp|access ?(?:codes?|word)|"
    # The same word in other languages, with and without the marks on its letters.
    r"kennwort|losungswort|zugangscode|mot de passe|code d acces|contrase[nñ]a|clave|senha|"
    r"palavra passe|parola(?: d ordine)?|wachtwoord|l[oö]senord|passord|adgangskode|salasana|"
    r"has[lł]o|heslo|jelsz[oó]|lozinka|[sş]ifre|пароль|密码|密碼|パスワード|암호|비밀번호"
)
_PERSON = (
    r"(?:[a-z]+ ?)?user ?(?:names?|ids?)?|log ?in(?: ?names?)?|e ?mails?|"
    r"(?:operator|pilot|surveyor|observer)s?(?: ?names?)?|benutzer(?:name)?|utilisateur|usuario"
)
_CONFIDENTIAL_NAME = re.compile(rf"(?:^| )(?:{_CONFIDENTIAL})\d*(?: |$)", re.IGNORECASE)
_PERSON_NAME = re.compile(rf"(?:^| )(?:{_PERSON})\d*(?: \d+)*$", re.IGNORECASE)
# The bare word is a password as well as one of several passes, which have numbers.
_BARE_PASS = re.compile(r"(?:^|[.\"])pass\"?$", re.IGNORECASE)
# Values under a secret's name that are words of settings: elsewhere they are no secret.
_HARMLESS = frozenset({"true", "false", "none", "null", "yes", "enabled", "disabled", "auto"})
_NUMBER = re.compile(r"[-+]?\d{0,5}(?:[.,]\d{1,6})?")
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_BETWEEN = re.compile(r"[\W_]+")

_IN_VALUE = (
    re.compile(r"-----BEGIN [A-Z ]*PRIVATE KEY-----.*", re.DOTALL),
    re.compile(r"(?<=://)[^\s/@?#\"'<>]+(?=@)"),
    re.compile(r"(?<![\w/])[\w.+-]+:[^\s:@/\"'<>]+(?=@[\w-]+(?:\.[\w-]+)+)"),
    re.compile(r"\b(?:basic|bearer|digest)\s+[A-Za-z0-9+/=._~-]{6,}", re.IGNORECASE),
    re.compile(r"\beyJ[\w-]+\.[\w-]+\.[\w-]*"),
    re.compile(r"\b[\w.+-]+@[\w-]+(?:\.[\w-]+)+"),
    re.compile(
        rf"(?<![a-z])(?:{_CONFIDENTIAL.replace(' ?', '[-_ ]?')}|user(?:[-_ ]?name)?)\d*[\"']?"
        r"(?:\s*[:=]\s*|\s+(?=\S*\d))(?:\"[^\"]*\"|'[^']*'|[^\s\"',;&]+)",
        re.IGNORECASE,
    ),
)
# Which part of a text is the secret, where what stands before it is kept: a bare `-p` or `-pw`, and
# host, port and mount before user and password. Common practice, no source.
_BEHIND = (
    re.compile(
        r"(?P<kept>(?<![\w-])-{1,2}(?:p|pw|pwd|pass)[ =]+)(?!\[taken out\])"
        r"(?![-+]?[\d.,]+(?![^\s,;]))(?!(?:[A-Za-z]:)?[./\\~]*[/\\])"
        r"(?:\"[^\"]*\"|'[^']*'|[^\s\"']+)"
    ),
    re.compile(
        r"(?P<kept>(?<![\w.-])(?:(?=[\w.-]*[A-Za-z])[\w.-]+|\d+(?:\.\d+){3}):\d{2,5}[:/][\w.-]+:)"
        r"(?!\[taken out\])[^\s:/]*:[^\s,;\"']+"
    ),
)
_WORD = re.compile(r"[A-Za-z0-9+/=_-]{20,}")


@dataclass(frozen=True)
class Cleaned:
    """Settings without secrets.

    Args:
        settings: all settings; a secret value is replaced by `[taken out]`.
        taken_out: keys whose value was a secret or held one.
    """

    settings: tuple[Setting, ...]
    taken_out: tuple[str, ...]


def take_out_secrets(settings: Iterable[Setting]) -> Cleaned:
    """Return the settings with every secret replaced.

    A secret that is found under its name is searched for in all other keys and values as well.
    """
    given = tuple(settings)
    known = sorted({s.value for s in given if _is_searched(s)}, key=len, reverse=True)
    cleaned, taken = [], []
    for setting in given:
        key = _replace(setting.key, known)
        value = _clean_value(setting, known)
        if (key, value) != (setting.key, setting.value):
            taken.append(key)
        cleaned.append(Setting(key, value))
    return Cleaned(tuple(cleaned), tuple(taken))


def is_secret_name(key: str) -> bool:
    """Say whether a flat key names a secret or a person: `ntrip.userName`, `API_KEY`."""
    return _is_confidential(key) or _is_named(key, _PERSON_NAME)


def _is_confidential(key: str) -> bool:
    return _is_named(key, _CONFIDENTIAL_NAME) or _BARE_PASS.search(key) is not None


def _is_named(key: str, names: re.Pattern[str]) -> bool:
    """Say whether a key is such a name, whatever signs without width or width of letters it has."""
    composed = unicodedata.normalize("NFKC", key)
    shown = "".join(sign for sign in composed if unicodedata.category(sign) != "Cf")
    apart = _BETWEEN.sub(" ", _CAMEL.sub(" ", shown)).strip()
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", apart) if sign.isascii())
    return names.search(apart) is not None or names.search(bare) is not None


def _is_searched(setting: Setting) -> bool:
    """Say whether a value is a secret wherever it stands; the name of a person may be any word."""
    value = setting.value
    ordinary = value.lower() in _HARMLESS or _NUMBER.fullmatch(value) is not None
    return _is_confidential(setting.key) and len(value) >= _SHORTEST and not ordinary


def _clean_value(setting: Setting, known: list[str]) -> str:
    value = setting.value
    if not value:
        return value
    counted = _BARE_PASS.search(setting.key) is not None and _NUMBER.fullmatch(value) is not None
    if is_secret_name(setting.key) and not counted:
        return TAKEN_OUT
    value = _replace(value, known)
    for pattern in _IN_VALUE:
        value = pattern.sub(TAKEN_OUT, value)
    for behind in _BEHIND:
        value = behind.sub(lambda match: f"{match['kept']}{TAKEN_OUT}", value)
    return _WORD.sub(lambda match: TAKEN_OUT if _is_token(match[0]) else match[0], value)


def _replace(text: str, known: list[str]) -> str:
    for secret in known:
        text = text.replace(secret, TAKEN_OUT)
    return text


def _is_token(word: str) -> bool:
    """Say whether a long word mixes cases and digits as keys do, and names and digests do not."""
    kinds = (str.islower, str.isupper, str.isdigit)
    changes = sum(a.isdigit() != b.isdigit() for a, b in pairwise(word))
    return all(any(map(kind, word)) for kind in kinds) and "/" not in word[:1] and changes >= 4
