"""How large a damage is drawn, and how grave the truth calls it. Limits are five sizes in mm: smallest, three steps, largest."""


def draw_size(rng, limits_mm, at_most_mm=99):
    """Evenly over the four grades, then within one; a grade smaller while that is too large."""
    grade = rng.integers(0, 4)
    size_mm = rng.uniform(limits_mm[grade], limits_mm[grade + 1])
    while size_mm > at_most_mm and grade > 0:
        grade -= 1
        size_mm = rng.uniform(limits_mm[grade], limits_mm[grade + 1])
    return min(size_mm, at_most_mm)


def severity(limits_mm, size_mm):
    """1 to 4."""
    return 1 + sum(size_mm >= step for step in limits_mm[1:4])
