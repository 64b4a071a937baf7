"""Beam search over a line's log-probabilities with the character language model (the reference for the program's own decoder).

Prefix beam search (Graves 2012; Hannun et al. 2014): a prefix is worth log p_net + alpha * log p_language + beta * characters; at the end
of the line alpha * log P(end) is added. The language model's score of a prefix is added once, when its last character is written.
"""

import numpy as np

BEAM = 12          # prefixes kept a frame
LEAST = -7.0       # characters below this log-probability are not tried
MOST = 8           # characters tried a frame
ALPHA, BETA = 0.5, 1.2


def _add(a, b):
    if a == -np.inf:
        return b
    if b == -np.inf:
        return a
    return a + np.log1p(np.exp(b - a)) if a > b else b + np.log1p(np.exp(a - b))


def beam(log_p, model, alpha=ALPHA, beta=BETA, width=BEAM):
    """n-best [(score, classes)] of one line, best first."""
    none = -np.inf
    # prefix -> [log p ending in blank, log p ending in its last character, language score, context]
    kept = {(): [0.0, none, 0.0, model.start()]}
    for frame in log_p:
        tried = [k for k in np.argpartition(-frame, MOST)[:MOST] if k != 0 and frame[k] > LEAST]
        new = {}

        def at(prefix, language, context):
            if prefix not in new:
                new[prefix] = [none, none, language, context]
            return new[prefix]

        for prefix, (blank, last, language, context) in kept.items():
            whole = _add(blank, last)
            same = at(prefix, language, context)
            same[0] = _add(same[0], whole + frame[0])
            if prefix:
                same[1] = _add(same[1], last + frame[prefix[-1]])
            for k in tried:
                longer = prefix + (k,)
                if longer in new:
                    entry = new[longer]
                elif longer in kept:
                    entry = at(longer, kept[longer][2], kept[longer][3])
                else:
                    entry = at(longer, language + alpha * model.score(context, k) + beta, model.extend(context, k))
                entry[1] = _add(entry[1], (blank if prefix and prefix[-1] == k else whole) + frame[k])
        best = sorted(new.items(), key=lambda e: -(_add(e[1][0], e[1][1]) + e[1][2]))[:width]
        kept = dict(best)
    ends = [(_add(b, l) + language + alpha * model.score(context, 0), prefix) for prefix, (b, l, language, context) in kept.items()]
    return sorted(ends, reverse=True)
