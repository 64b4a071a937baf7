"""The characters the line reader can write. Class 0 of the net is the blank; class k is the k-th character here."""

import unicodedata

_ASCII = "".join(chr(c) for c in range(32, 127) if chr(c) not in "`{}\\^")
_LETTERS = "ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÑÒÓÔÕÖØÙÚÛÜÝßàáâãäåæçèéêëìíîïñòóôõöøùúûüýÿŒœ"
_SIGNS = "°ºª²³½¼¾⅓⅔′″‘’“”„«»–—…§†×±£€·¡¿№♂♀"

CHARACTERS = _ASCII + _LETTERS + _SIGNS
CLASSES = len(CHARACTERS) + 1
_CLASS_OF = {c: i + 1 for i, c in enumerate(CHARACTERS)}

# Rare signs of the transcripts and what the reader is taught to write for them.
_FOLDED = {"ſ": "s", "ȼ": "c", "Ŭ": "U", "`": "'", "‚": ",", "\u00a0": " ", "\u202f": " ", "µ": "u", "‐": "-", "‑": "-", "−": "-"}


def fold(text):
    """NFC, single blanks, and every character inside the alphabet; what has no stand-in is dropped."""
    text = "".join(_FOLDED.get(c, c) for c in unicodedata.normalize("NFC", text))
    return " ".join("".join(c for c in text if c in _CLASS_OF).split())


def classes_of(text):
    return [_CLASS_OF[c] for c in text]


def text_of(classes):
    """Text of a best path: repeats merged, blanks dropped."""
    out, last = [], 0
    for k in classes:
        if k != last and k != 0:
            out.append(CHARACTERS[k - 1])
        last = k
    return "".join(out)
