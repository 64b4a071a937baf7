"""What people wrote on envelopes, and what newspapers printed. Species and places are real, persons are invented."""

SPECIES = [
    "Vanessa cardui", "Papilio machaon", "Colias hyale", "Lycaena virgaureae", "Argynnis paphia", "Pieris rapae", "Melitaea cinxia",
    "Satyrus semele", "Aglia tau", "Saturnia pavonia", "Sphinx ligustri", "Zygaena filipendulae", "Aeshna cyanea", "Libellula depressa",
    "Calopteryx virgo", "Sympetrum danae", "Gonepteryx rhamni", "Thecla quercus", "Parnassius mnemosyne", "Limenitis populi",
    "Arctia caja", "Catocala nupta", "Morpho menelaus", "Ornithoptera priamus", "Danais chrysippus", "Euploea core", "Anax imperator",
    "Erebia aethiops", "Charaxes jasius", "Delias eucharis"]
AUTHORS = ["", "", " L.", " f.", " m."]
PLACES = [
    "Bergün, Albula", "Lago di Garda", "Kandy, Ceylon", "Visby, Gotland", "Zermatt 1600 m", "Col de Jau", "Mostar", "Buitenzorg",
    "Rio Negro", "Tromsø", "Cintra", "Brassó", "Mount Elgon", "Darjiling", "near Oban", "Blankenburg", "Val Tournanche",
    "Corte, Corsica", "St. Laurent, Guyane", "Lake Toba, Sumatra", "Innsbruck", "Öland", "Arcachon", "Rusel", "Kuranda, Qld.",
    "Minas Geraes"]
BEFORE_PERSON = ["leg. ", "coll. ", "", "Coll. "]
PERSONS = [
    "A. Wendelgart", "J. Pollimore", "H. Strobenau", "M. Queljac", "T. Ossenwyk", "E. Varndal", "P. Lindquill", "R. Casperoni",
    "F. Mottershaw-Ple", "K. Zibrtova", "Dr. Ohmsett", "C. Fennimarch"]
MONTHS = ["January", "March", "April", "May", "June", "July", "August", "Sept.", "Juni", "Juli", "août", "mai", "Okt.", "juin"]
ROMAN_MONTHS = ["iv", "v", "vi", "vii", "viii", "ix", "x"]
NEWSPAPER = (
    "the of and to in a is that was for on with his by at from which have been this were said has not be or as an would market council "
    "river morning price barley steamer arrived letter minister evening harbour railway bridge weather school company notice garden "
    "concert street president foreign troops winter harvest cattle fair shipping mail yesterday mayor committee theatre tobacco sugar "
    "cotton wheat sale auction house servant wanted apply office paper doctor parish church water public opened closed great small new "
    "old number police court judge witness fire storm village passenger captain voyage").split()


def date(rng):
    year, day = int(rng.integers(1885, 1938)), int(rng.integers(1, 29))
    form = rng.integers(0, 5)
    if form == 0:
        return f"{day}.{rng.choice(ROMAN_MONTHS)}.{year}"
    if form == 1:
        return f"{day} {rng.choice(MONTHS)} {year}"
    if form == 2:
        return f"{rng.choice(MONTHS)} {year}"
    if form == 3:
        return f"{day}.{int(rng.integers(4, 11))}.{year % 100:02d}"
    return f"{day}. {rng.choice(ROMAN_MONTHS).upper()}. {year}"


def label(rng):
    """Two to four lines: the species, then some of place, date and collector."""
    species = str(rng.choice(SPECIES)) + str(rng.choice(AUTHORS))
    rest = [str(rng.choice(PLACES)), date(rng), str(rng.choice(BEFORE_PERSON)) + str(rng.choice(PERSONS))]
    count = int(rng.integers(2, 5))
    return [species] + [rest[k] for k in sorted(rng.choice(3, count - 1, replace=False))]
