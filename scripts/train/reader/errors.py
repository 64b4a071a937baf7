"""Character errors: the least number of insertions, deletions and substitutions between two texts."""


def character_errors(got, want):
    row = list(range(len(want) + 1))
    for i, g in enumerate(got, 1):
        before, row[0] = row[0], i
        for j, w in enumerate(want, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (g != w))
    return row[-1]
