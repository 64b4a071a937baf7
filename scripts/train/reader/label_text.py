"""Texts as collectors write them on the papers of specimens: places, dates, heights, positions, names, taxa, sexes, numbers.

Everything is drawn from a random.Random, so a seed gives the same lines. Places come from a file of names, one a line (see prepare.py);
running prose comes from the transcripts of the training lines and from old books. Collectors are invented from common surnames and syllables.
"""

MONTHS = {
    "en": "January February March April May June July August September October November December".split(),
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre".split(),
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember".split(),
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre".split(),
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro".split(),
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre".split(),
    "nl": "januari februari maart april mei juni juli augustus september oktober november december".split(),
    "sv": "januari februari mars april maj juni juli augusti september oktober november december".split(),
    "da": "januar februar marts april maj juni juli august september oktober november december".split(),
    "la": "Ianuarii Februarii Martii Aprilis Maii Iunii Iulii Augusti Septembris Octobris Novembris Decembris".split(),
}
SHORT = {
    "en": "Jan Feb Mar Apr May Jun Jul Aug Sept Oct Nov Dec".split(),
    "fr": "janv fév mars avr mai juin juil août sept oct nov déc".split(),
    "de": "Jan Febr März Apr Mai Juni Juli Aug Sept Okt Nov Dez".split(),
    "es": "ene feb mar abr may jun jul ago sept oct nov dic".split(),
    "pt": "jan fev mar abr mai jun jul ago set out nov dez".split(),
    "it": "genn febbr mar apr magg giu lugl ag sett ott nov dic".split(),
    "nl": "jan febr mrt apr mei juni juli aug sept okt nov dec".split(),
    "sv": "jan febr mars april maj juni juli aug sept okt nov dec".split(),
    "da": "jan febr marts april maj juni juli aug sept okt nov dec".split(),
    "la": "Ian Febr Mart Apr Mai Iun Iul Aug Sept Oct Nov Dec".split(),
}
OLD_SHORT = "7bre 8bre 9bre Xbre 7ber 8ber 9ber 10ber 7.bre 8.bre 9.bre 10.bre".split()
ROMAN = "I II III IV V VI VII VIII IX X XI XII".split()

SURNAMES = """Smith Jones Brown Taylor Wilson Davies Evans Thomas Roberts Walker Wright Thompson White Hughes Edwards Green Hall Wood Harris Clarke Jackson
Turner Hill Moore Ward Cooper Morris King Baker Harrison Morgan Allen James Scott Phillips Watson Davis Parker Bennett Price Griffiths Young Kelly Mitchell
Müller Schmidt Schneider Fischer Weber Meyer Wagner Becker Schulz Hoffmann Schäfer Koch Bauer Richter Klein Wolf Schröder Neumann Schwarz Zimmermann Braun
Krüger Hofmann Hartmann Lange Werner Krause Lehmann Köhler Maier Herrmann König Walter Mayer Huber Kaiser Fuchs Peters Lang Scholz Möller Weiß Jung Hahn Vogel
Martin Bernard Dubois Robert Richard Petit Durand Leroy Moreau Simon Laurent Lefebvre Michel Garcia David Bertrand Roux Vincent Fournier Morel Girard André
Lefèvre Mercier Dupont Lambert Bonnet François Martinez Legrand Garnier Faure Rousseau Blanc Guérin Muller Henry Roussel Nicolas Perrin Morin Mathieu Clément
Gauthier Dumont Lopez Fontaine Chevalier Robin Masson Sanchez Gérard Nguyen Boyer Denis Lemaire Duval Joly Gautier Roger Roche Roy Noël Meyer Lucas Meunier
Rossi Russo Ferrari Esposito Bianchi Romano Colombo Ricci Marino Greco Bruno Gallo Conti De-Luca Costa Giordano Mancini Rizzo Lombardi Moretti
Fernández González Rodríguez Gómez Pérez Sánchez Ramírez Torres Flores Rivera Díaz Cruz Ortiz Gutiérrez Núñez Muñoz Peña Silva Santos Oliveira Souza
Pereira Lima Carvalho Ferreira Ribeiro Almeida Gonçalves Araújo Magalhães Conceição Guimarães Jansen de-Vries van-den-Berg Bakker Visser Smit Meijer de-Boer
Mulder de-Groot Bos Vos Peeters Hendriks Dekker Brouwer Dijkstra Andersson Johansson Karlsson Nilsson Eriksson Larsson Olsson Persson Svensson Gustafsson
Pettersson Jonsson Lindström Lindqvist Lindgren Berglund Sjöberg Åkesson Öberg Hansen Jensen Nielsen Pedersen Andersen Christensen Larsen Sørensen Rasmussen
Jørgensen Madsen Kristensen Olsen Møller Østergaard Lund Holm Dahl Haugen Bakken Strand Solberg Berg Næss Nowak Kowalski Novak Horvat Popescu Ivanov Petrov
Smirnov Kuznetsov Popov Tanaka Suzuki Sato Watanabe Wang Li Chen Singh Das Sharma Perera Fernando de-Silva""".split()
GENERA = """Papilio Parnassius Morpho Danaus Vanessa Pieris Colias Argynnis Melitaea Erebia Satyrus Lycaena Polyommatus Hesperia Sphinx Deilephila Saturnia
Attacus Catocala Noctua Agrotis Zygaena Arctia Geometra Larentia Eupithecia Ornithoptera Troides Charaxes Acraea Heliconius Euploea Delias Precis Junonia
Neptis Limenitis Apatura Libellula Aeshna Gomphus Cordulia Sympetrum Agrion Calopteryx Lestes Coenagrion Orthetrum Anax Ischnura Enallagma Panorpa Chrysopa
Ascalaphus Myrmeleon Cicada Acridium Locusta Mantis Carabus Cicindela Lucanus Cerambyx Dytiscus Cetonia Buprestis Bombus Vespa Sphex Tabanus Syrphus Tipula
Limnophilus Perla Ephemera Graphium Eurema Catopsilia Appias Ixias Hypolimnas Cethosia Parthenos Lethe Mycalesis Ypthima Elymnias Kallima Actias Antheraea
Callimorpha Lasiocampa Macroglossum Hippotion Theretra Xylophanes Automeris Caligo Opsiphanes Adelpha Agrias Prepona Eunica Callicore Perisama""".split()
EPITHETS = """machaon podalirius apollo mnemosyne delius plexippus chrysippus atalanta cardui urticae polychloros antiopa io brassicae rapae napi edusa hyale palaeno
paphia aglaja adippe cinxia athalia ligea aethiops medusa semele hermione phlaeas icarus bellargus coridon argus comma sylvanus ligustri convolvuli elpenor
pavonia nupta fraxini sponsa pronuba segetum filipendulae caja villica memnon polytes agenor helenus paris menelaus achilles peleides deidamia alpina
borealis orientalis occidentalis meridionalis montana sylvatica pratensis palustris vulgaris communis minor major maxima minima nigra alba flava rubra viridis
caerulea fusca punctata lineata fasciata maculata marginata quadrimaculata depressa grandis cyanea virgo splendens sanguineum vulgatum puella elegans
pulchella formosa nobilis regalis imperator juncea mixta affinis dubia similis insignis ornata picta variegata javana indica chinensis japonica africana
americana brasiliensis mexicana peruviana australis sumatrana borneensis ceylonica himalayana tibetana sibirica lapponica germanica gallica hispanica
italica anatolica caucasica persica aegyptiaca abyssinica madagascariensis""".split()
AUTHORS = "L. Linn. Linné F. Fab. Fabr. Hb. Hübn. Esp. O. Bdv. Boisd. Cr. Cram. Feld. Stgr. H.-S. Butl. Godt. Latr. Schiff. D.&S. Rott. Hufn. Ochs. Dup. Guen. Wlk. Moore Westw. Hew. Drury Charp. Selys Ramb. Burm. Klug Mén. Ev. Frr. auct.".split()
WORDS = {
    "en": """collected by coll. leg. det. det. from near at above below on the of road side river bank hill hills mountain mountains forest wood woods garden station
camp bridge village district province county state island islands coast lake falls valley pass ridge summit plateau swamp marsh meadow pasture light trap net flying
bred reared emerged ex larva pupa from oak on flowers at light at sugar taken in copula pair worn fresh dark form var. ab. type cotype paratype syntype not set to be
spread papered received exchange bought presented Mus. miles ft. feet alt. elev. about ca. between and July rare common very local abundant dry season wet season morning
evening night sunny rain wind with same as before ditto do. id. see notebook vial box tin No. lot envelope specimens males females wings damaged good for exchange""",
    "fr": """récolté par leg. coll. dét. de du près dans sur au aux bord rivière route forêt bois jardin colline montagne mont col plateau vallée lac marais prairie village
environs province district île côte chasse à la lumière au filet éclos chenille chrysalide sur fleurs rare commun très abondant mâle femelle couple frais usé vu le
matin soir nuit pluie soleil saison sèche saison des pluies altitude mètres env. échange acheté donné type var. aberration à étaler reçu boîte carnet n°""",
    "de": """gesammelt von leg. coll. det. bei am an der dem den im in unter über Ufer Fluß Bach Straße Wald Garten Berg Gebirge Hügel Tal See Moor Sumpf Wiese Dorf
Umgebung Umg. Bezirk Provinz Insel Küste Lichtfang am Licht am Köder gezogen e. l. e. p. ex larva Raupe Puppe geschlüpft an Blüten selten häufig gemein Männchen
Weibchen Paar frisch abgeflogen morgens abends nachts Regen Sonne Trockenzeit Regenzeit Höhe m ü. M. ca. etwa zwischen und Tausch gekauft erhalten Type var. ab. f.
nicht gespannt noch zu spannen Schachtel Nr. Tagebuch Süd Nord Ost West Ober Unter Nieder""",
    "es": """colectado por leg. col. det. cerca de del en el la los río camino bosque jardín cerro monte sierra valle lago laguna pantano prado pueblo provincia estado isla
costa a la luz con red raro común hembra macho par mañana tarde noche lluvia sol estación seca altura metros snm aprox. entre y caja cuaderno núm. hacienda finca""",
    "pt": """coletado por leg. col. det. perto de do da em no na rio estrada mata floresta jardim serra morro vale lago brejo campo vila província estado ilha costa à luz
rede raro comum fêmea macho manhã tarde noite chuva sol estação seca altitude metros caixa caderno n.º fazenda São João José""",
    "it": """raccolto da leg. coll. det. presso di del nel sul la il fiume strada bosco giardino monte colle valle lago palude prato paese provincia isola costa alla luce
raro comune femmina maschio coppia mattina sera notte pioggia sole quota metri m s.l.m. circa fra e scatola quaderno n.""",
    "nl": """verzameld door leg. coll. det. bij van de het in op aan rivier weg bos tuin berg heuvel dal meer moeras weide dorp provincie eiland kust op licht gekweekt rups
pop zeldzaam gewoon mannetje wijfje paar ochtend avond nacht regen zon droge tijd natte tijd hoogte meter ca. tussen en doos boek Nr. W. O. Java Sumatra""",
    "sv": """insamlad av leg. coll. det. vid på i från nära å väg skog trädgård berg ås dal sjö kärr äng by socken län ö kust ljus håv sällsynt allmän hane hona par morgon
kväll natt regn sol höjd meter omkring mellan och ask dagbok nr Skåne Småland Västergötland Östergötland Öland Gotland Ångermanland""",
    "da": """samlet af leg. coll. det. ved på i fra nær å vej skov have bjerg ås dal sø mose eng by sogn amt ø kyst lys net sjælden almindelig han hun par morgen aften nat
regn sol højde meter omkring mellem og æske dagbog nr. Jylland Sjælland Fyn Møn Østfold Sør-Trøndelag Ålesund""",
}
WORDS = {k: v.split() for k, v in WORDS.items()}
COUNTRIES = """Ceylon India Burma Siam Tonkin Annam Cochinchine Java Sumatra Borneo Celebes Neu-Guinea N. Guinea|Madagascar|Congo belge|Belg. Congo|D. O. Afrika|Deutsch-Ostafrika|Brit. E. Africa|Kenya|Uganda|Tanganyika
Nyasaland|Rhodesia|Transvaal|Natal|Cape Colony|Kamerun|Cameroun|Togo|Gold Coast|Nigeria|Sierra Leone|Sénégal|Algérie|Tunisie|Maroc|Egypt|Sudan|Abyssinia|Brésil|Brasil|Brazil|Perú|Peru|Bolivia|Ecuador
Colombia|Venezuela|Guyane|Brit. Guiana|Surinam|México|Mexico|Guatemala|Costa Rica|Panamá|Cuba|Jamaica|Haiti|U.S.A.|California|Texas|Florida|Canada|Ontario|Québec|Alaska|China|W. China|Setchuen|Yunnan|Thibet
Tibet|Japan|Formosa|Philippinen|Luzon|Palawan|Australia|Queensland|N. S. Wales|Tasmania|New Zealand|Fiji|Salomons|Persia|Syria|Palestine|Asia minor|Kaukasus|Turkestan|Sibiria|Ussuri|Amur|Rußland|Ungarn
Österreich|Tirol|Steiermark|Krain|Dalmatia|Bosnien|Herzegowina|Schweiz|Suisse|Valais|Wallis|Tessin|Italia|Piemonte|Sardegna|Sicilia|Corse|España|Andalucía|Portugal|France|Pyrénées|Alpes-Maritimes|Basses-Alpes
Bayern|Sachsen|Thüringen|Schlesien|Ost-Preußen|Holland|Belgique|England|Scotland|Ireland|Sverige|Norge|Danmark|Finland|Lappland|Island""".replace("\n", "|").split("|")
COMPASS = "N S E W NE NW SE SW NNE NNW SSE SSW ENE WSW N.E. N.W. S.E. S.W. N.N.O. O NO SO S.O. N.O. östl. westl. nördl. südl. au nord au sud".split()
SYLLABLES = "ba be bi bo bu ka ke ki ko ku la le li lo lu ma me mi mo mu na ne ni no nu pa pe pi po ra re ri ro ru sa se si so su ta te ti to tu va ve vi za ga go gu da de di do cha sha nga mba nde kwa tsi rua ngo bel lin mar ton ber ham ley ford burg dorf stad wald bach berg hau ville mont court ac an en on".split()


class LabelText:
    def __init__(self, places, prose):
        self.places, self.prose = places, prose

    # ---- numbers, dates
    def year(self, r):
        y = int(r.triangular(1835, 1999, 1915))
        k = r.random()
        return str(y) if k < 0.75 else (f"{y % 100:02d}" if k < 0.88 else ("'" if r.random() < 0.5 else "’") + f"{y % 100:02d}")

    def month(self, r, lang):
        k, m = r.random(), r.randrange(12)
        if k < 0.32:
            s = ROMAN[m] if r.random() < 0.8 else ROMAN[m].lower()
        elif k < 0.60:
            s = MONTHS[lang][m]
        elif k < 0.88:
            s = SHORT[lang][m] + ("." if r.random() < 0.6 else "")
        elif k < 0.90:
            s = r.choice(OLD_SHORT)
        else:
            s = str(m + 1)
        if k >= 0.32 and r.random() < 0.2:
            s = s.capitalize() if r.random() < 0.6 else s.upper()
        return s

    def date(self, r):
        lang, d = r.choice(list(MONTHS)), r.randint(1, 31)
        k = r.random()
        day = str(d) if r.random() < 0.85 else f"{d:02d}"
        if r.random() < 0.15:
            a = min(d + r.randint(1, 12), 31)
            day = f"{d}{r.choice(['-', '-', ' - ', '–', '/', '. - ', '.-'])}{a}"
        y = self.year(r)
        if k < 0.02:   # the month's letters alone part day and year
            return f"{d}{r.choice(ROMAN)}{y}"
        if k < 0.34:
            sep = r.choice([".", ".", ".", ". ", "-", "/", " ", "–", ",", " . "])
            m = self.month(r, lang) if r.random() < 0.8 else str(r.randint(1, 12))
            end = r.choice(["", "", "", "."])
            return f"{day}{sep}{m}{sep}{y}{end}".replace("..", ".")
        if k < 0.46:
            return f"{d}{r.choice('./-')}{r.choice(['', ' '])}{r.randint(1, 12)}{r.choice('./-')}{r.choice(['', ' '])}{y}"
        if k < 0.62:
            dot = {"de": ".", "da": ".", "fr": "er" if d == 1 else ""}.get(lang, "")
            de = " de " if lang in ("es", "pt") and r.random() < 0.6 else " "
            if lang == "en":
                dot = r.choice(["", "", {1: "st", 2: "nd", 3: "rd"}.get(d % 10 if d not in (11, 12, 13) else 0, "th")])
            return f"{day}{dot}{de}{self.month(r, lang)}{de}{y}"
        if k < 0.74:
            return f"{self.month(r, 'en')} {day}{r.choice([', ', ' ', ',', 'th ', 'th, '])}{y}"
        if k < 0.82:
            return f"{self.month(r, lang)}{r.choice([' ', '.', '. ', '-', '/'])}{y}".replace("..", ".")
        if k < 0.87:
            a, b = r.randrange(12), r.randrange(12)
            lo = r.random() < 0.3
            f = lambda i: ROMAN[i].lower() if lo else ROMAN[i]
            if r.random() < 0.3:
                return f"{f(a)}{r.choice(['-', ' - ', '. - ', '–', '/'])}{f(b)}.{y}"
            return f"{day}.{f(a)}{r.choice(['-', ' - ', '. - ', '–'])}{r.randint(1, 28)}.{f(b)}.{y}"
        if k < 0.91:
            return r.choice([f"{y}", f"{y}.", f"été {y}", f"summer {y}", f"Sommer {y}", f"spring {y}", f"Mitte {self.month(r, 'de')} {y}", f"Anf. {self.month(r, 'de')} {y}",
                             f"Ende {self.month(r, 'de')} {y}", f"fin {self.month(r, 'fr')} {y}", f"early {self.month(r, 'en')} {y}", f"ca. {y}", f"c. {y}", f"vers {y}", f"{y}?", f"[{y}]"])
        if k < 0.95:
            return f"{int(r.triangular(1835, 1999, 1915))}-{r.randint(1, 12):02d}-{d:02d}"
        return f"{day} {self.month(r, lang)}"

    def elevation(self, r):
        n = r.choice([r.randint(5, 400), r.randint(1, 60) * 50, r.randint(1, 120) * 100 // 2])
        s = str(n)
        if n >= 1000 and r.random() < 0.2:
            s = s[:-3] + r.choice([",", ".", "'", " "]) + s[-3:]
        if r.random() < 0.2:
            s += r.choice(["-", " - ", "–"]) + str(n + r.randint(1, 10) * 50)
        unit = r.choice(["m", "m.", " m", " m.", "m", " m", " metres", " mètres", " Meter", " mtr.", " ft", " ft.", "ft.", " feet", "'", " Fuß", " p.", " pieds"])
        pre = r.choice(["", "", "", "", "alt. ", "Alt. ", "elev. ", "ca. ", "c. ", "env. ", "± ", "h. ", "Seehöhe ", "about "])
        return pre + s + unit + r.choice(["", "", "", " ü. M.", " s. m.", " s.l.m.", " snm"] if "m" in unit else [""])

    def coordinates(self, r):
        def one(top, ends):
            d, m, s = r.randrange(top), r.randrange(60), r.randrange(60)
            k = r.random()
            mark = r.choice("'′’")
            if k < 0.45:
                t = f"{d}°{m:02d}{mark}" if r.random() < 0.5 else f"{d}° {m}{mark}"
            elif k < 0.7:
                t = f"{d}°{m}{mark}{s}" + {"'": '"', "′": "″", "’": "”"}[mark]
            elif k < 0.85:
                t = f"{d}°{m}.{r.randrange(1000)}{mark}"
            else:
                t = f"{d}.{r.randrange(10000):04d}°"
            return t + r.choice(["", " "]) + r.choice(ends)
        return one(90, "NS") + r.choice([", ", " ", "; ", "  "]) + one(180, r.choice(["EW", "EW", "EO", "OW"]))

    # ---- words
    def surname(self, r):
        if r.random() < 0.55:
            return r.choice(SURNAMES).replace("-", " ")
        return "".join(r.choice(SYLLABLES) for _ in range(r.randint(2, 3))).capitalize()

    def collector(self, r):
        name = self.surname(r)
        k = r.random()
        if k < 0.6:
            name = "".join(r.choice("ABCDEFGHIJKLMNOPRSTUVWZ") + r.choice([". ", ".", ". "]) for _ in range(r.randint(1, 2))) + name
        elif k < 0.68:
            name = r.choice(["Dr. ", "Mr. ", "Mrs. ", "Miss ", "Prof. ", "Capt. ", "Major ", "P. ", "Père ", "R. P. ", "Frère ", "Mme ", "M. ", "Mlle ", "Hr. ", "Frl. ", "Sr. ", "Rev. ", "Fr. "]) + name
        k = r.random()
        if k < 0.35:
            return r.choice(["leg. ", "Leg. ", "coll. ", "Coll. ", "col. ", "leg ", "Coll ", "ex coll. ", "rec. ", "det. ", "lgt. ", "S. "]) + name
        if k < 0.5:
            return name + r.choice([" leg.", " coll.", " legit", " col.", " lg.", ", leg."])
        if k < 0.58:
            return name + r.choice([" & ", " et ", " u. ", " and ", " y ", " e "]) + self.surname(r)
        return name

    def latin(self, r):
        stem = "".join(r.choice("bcdfglmnprstv") + r.choice("aeiou") + r.choice(["", "", "n", "r", "s", "l", "x"]) for _ in range(r.randint(1, 3)))
        return stem + r.choice(["us", "a", "um", "is", "ensis", "ella", "alis", "oides", "ana", "inus", "ata", "osa", "ica", "ops", "ia", "i", "ae", "iana"])

    def taxon(self, r):
        genus = r.choice(GENERA) if r.random() < 0.6 else self.latin(r).capitalize()
        species = r.choice(EPITHETS) if r.random() < 0.6 else self.latin(r)
        k = r.random()
        if k < 0.18:
            genus = genus[0] + "."
        t = f"{genus} {species}"
        if k < 0.06:
            t = f"{genus} sp." if len(genus) > 2 else t
        elif k > 0.8:
            t += r.choice([" var. ", " ab. ", " f. ", " ssp. ", " ", " v. "]) + (r.choice(EPITHETS) if r.random() < 0.6 else self.latin(r))
        if r.random() < 0.4:
            t += " " + (r.choice(AUTHORS) if r.random() < 0.8 else self.surname(r)) + (f", {int(r.triangular(1758, 1950, 1860))}" if r.random() < 0.15 else "")
        return ("? " if r.random() < 0.02 else "") + (t.upper() if r.random() < 0.02 else t)

    def sex(self, r):
        one = lambda: r.choice(["♂", "♀", "♂", "♀", "♂♂", "♀♀"])
        k = r.random()
        if k < 0.35:
            return one()
        if k < 0.7:
            return f"{r.randint(1, 12)}{r.choice(['', ' '])}{one()}"
        if k < 0.9:
            return f"{r.randint(1, 9)}{r.choice(['', ' '])}♂{r.choice(['', '♂'])}{r.choice([' ', ', ', ' + ', ' & ', '  '])}{r.randint(1, 9)}{r.choice(['', ' '])}♀{r.choice(['', '♀'])}"
        return r.choice(["♂ ♀", "♂ et ♀", "♂ & ♀", "♂+♀", "♂ u. ♀", "♀?", "♂ (worn)", "♂, ♀ in cop.", "in cop. ♂ ♀", "♂ ab."])

    def number(self, r):
        n = r.choice([r.randint(1, 99), r.randint(1, 999), r.randint(1, 99999)])
        k = r.random()
        if k < 0.3:
            return f"{n}"
        if k < 0.75:
            return r.choice(["No. ", "No ", "N° ", "Nr. ", "Nr ", "№ ", "№", "no. ", "n° ", "# ", "Lot ", "Coll. No. ", "Exp. ", "Loc. ", "Sta. ", "Acc. "]) + str(n) + r.choice(["", "", "", "a", "b", "/" + str(r.randint(1, 40)), "."])
        if k < 0.9:
            return r.choice([f"({n})", f"{n}.", f"{n}/{r.randint(1, 99)}", f"{n}-{r.randint(1, 99)}", f"{r.choice('ABCDEFGHKLMPRST')}{n}", f"{r.choice('ABCDEFGHKLMPRST')} {n}", f"[{n}]", f"{n} ex.", f"{n} spec.", f"{n} Ex.", f"× {n}"])
        return r.choice([f"{r.randint(1, 20)}½ {r.choice(['m.', 'miles', 'km', 'hrs', 'Std.'])}", f"¼ mile", f"¾ h", f"{r.randint(1, 9)}¼", f"{r.randint(1, 9)}¾ mi.", f"⅓", f"⅔", f"{r.randint(1, 12)}½",
                         f"£{r.randint(1, 9)}", f"{r.randint(1, 99)} %", f"{r.randint(8, 34)}°C", f"{r.randint(50, 99)}° F.", f"{r.randint(2, 90)} km²", f"§ {r.randint(1, 99)}"])

    def ditto(self, r):
        d = r.choice(['"', '"', "”", "„", "″", "do.", "do", "Do.", "id.", "idem", "ditto", "ibid.", "—", "desgl.", "dto."])
        return (r.choice([" ", "   ", "  "]).join([d] * r.randint(1, 4)) if len(d) == 1 else d)

    def type_word(self, r):
        w = r.choice(["Type", "Cotype", "Paratype", "Holotype", "Allotype", "Syntype", "Neotype", "Topotype", "Typus", "Genotype", "Homotype"])
        return (r.choice(["", "", "† "]) + (w.upper() if r.random() < 0.4 else w) + r.choice(["", "", " ♂", " ♀", "!", " No. " + str(r.randint(1, 99))]))

    def place(self, r):
        p = r.choice(self.places)
        k = r.random()
        if k < 0.10:
            p = p.upper()
        if k > 0.93:
            p = "".join(r.choice(SYLLABLES) for _ in range(r.randint(2, 4))).capitalize()
        return p

    def locality(self, r):
        p, k = self.place(r), r.random()
        if k < 0.42:
            return p
        if k < 0.56:
            return p + r.choice([", ", " ", " (", "; ", ". "]) + r.choice(COUNTRIES) + (")" if r.random() < 0.15 else "")
        if k < 0.63:
            return r.choice(COUNTRIES) + r.choice([": ", ", ", ". ", " ", " - "]) + p
        if k < 0.73:
            return f"{r.randint(1, 60)}{r.choice([' ', ''])}{r.choice(['km', 'km.', 'mi.', 'miles', 'mi', 'Km', 'kms', 'mls.'])} {r.choice(COMPASS)}{r.choice([' of ', ' ', ' von ', ' de '])}{p}"
        if k < 0.81:
            return r.choice(["nr. ", "near ", "bei ", "b. ", "près de ", "près ", "env. de ", "Umg. v. ", "cerca de ", "presso ", "bij ", "vid ", "prope ", "above ", "below ", "entre ", "from ", "v. "]) + p
        if k < 0.90:
            return r.choice(["Mt. ", "Mont ", "M. ", "Mte. ", "R. ", "Rio ", "Río ", "Lac ", "Lake ", "L. ", "Col de ", "Monte ", "Sierra de ", "Is. ", "I. ", "Ile de ", "Fort ", "Port ", "S. ", "N. ", "St. ", "Ste ", "San ", "Bad ", "Cap ", "Cape ", "Kota ", "G. ", "Gunung ", "Forêt de ", "Val ", "Villa "]) + p
        if k < 0.94:
            return p + r.choice([" Hills", " River", " Valley", " Distr.", " Dist.", " Prov.", " Co.", " Station", "-Tal", " Wald", " Estate", " Forest", " Camp", " Pass", " R.", " Is.", " Island", " Bay", " Mts.", " Geb.", " Falls", " Rd."])
        return p + r.choice([" - ", "–", "-", " bis ", " to ", "/"]) + self.place(r)

    def phrase(self, r):
        words = WORDS[r.choice(list(WORDS))]
        i, n = r.randrange(len(words)), r.randint(1, 5)
        t = " ".join(words[i:i + n] if r.random() < 0.5 else (r.choice(words) for _ in range(n)))
        return t[0].upper() + t[1:] if r.random() < 0.3 else t

    def running(self, r):
        words = r.choice(self.prose).split()
        n = r.randint(1, 11)
        i = r.randrange(max(1, len(words) - n + 1))
        return " ".join(words[i:i + n])

    def noise(self, r):
        """Character soup: keeps the reader from leaning on words alone."""
        pool = r.choice(["0123456789", "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "abcdefghijklmnopqrstuvwxyz", "àâäáãåæçèéêëìíîïñòóôöõøùúûüýßœÀÂÄÁÃÅÆÇÈÉÊËÍÎÑÓÔÖØÙÚÛÜŒ", "0123456789.,-/()°'\"½¼¾:;+×=?!&%$£*#§†±[]_<>@~|№€·¡¿ºª²³"])
        mix = pool + ("abcdefghijklmnopqrstuvwxyz " if r.random() < 0.5 else "")
        return " ".join("".join(r.choice(mix) for _ in range(r.randint(1, 8))).strip() or "x" for _ in range(r.randint(1, 3)))

    def line(self, r):
        """One line of an annotation: one to three parts, or a piece of prose."""
        k = r.random()
        if k < 0.30:
            return self.running(r)
        if k < 0.34:
            return self.noise(r)
        if k < 0.39:
            return self.phrase(r)
        kinds = [(self.locality, 30), (self.date, 30), (self.collector, 13), (self.elevation, 9), (self.taxon, 14), (self.sex, 8), (self.number, 7), (self.coordinates, 4), (self.ditto, 2), (self.type_word, 2), (self.phrase, 6)]
        makers, weights = zip(*kinds)
        parts = [m(r) for m in r.choices(makers, weights, k=r.choice([1, 1, 1, 2, 2, 3]))]
        sep = r.choice([" ", ", ", ". ", "  ", " - ", "; "])
        text = sep.join(parts)
        if r.random() < 0.05:
            text += r.choice([".", ",", "!", "?", ";", ":"])
        if r.random() < 0.015:
            q = r.choice(["“”", "«»", "‘’", "„“", '""', "()", "[]"])
            text = q[0] + text + q[1]
        return text
