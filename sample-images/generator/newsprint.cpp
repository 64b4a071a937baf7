#include "newsprint.h"

#include <algorithm>
#include <array>
#include <sstream>

namespace papillote::samples {
namespace {

// Invented news in the manner of a provincial paper.
const char* news(Language language) {
  switch (language) {
    case Language::english:
      return "The harbour master reports that the mail steamer was detained four days by fog and came in on Tuesday with "
             "all passengers well. The price of oats has fallen again and farmers in the upper valley are holding back "
             "their stocks. A meeting of the turnpike trustees was held in the town hall when it was resolved to repair "
             "the stone bridge before winter. Lost near the church a brown leather pocket book containing letters of no "
             "value but to the owner. The concert given in aid of the cottage hospital was well attended and the sum of "
             "eleven pounds was handed to the treasurer. Wanted a steady young man used to horses. Good wages. Apply at "
             "this office. The weather continues dry and the hay is being carried in excellent condition. ";
    case Language::french:
      return "Le conseil municipal s'est réuni jeudi soir pour délibérer sur la réparation de la route du col, fort "
             "endommagée par les pluies du mois dernier. On nous écrit de la vallée que la récolte des noix sera belle "
             "cette année. Une jument baie, âgée de sept ans, est à vendre chez le sieur Malbosque, aubergiste. Le train "
             "de Marseille est arrivé avec deux heures de retard par suite d'un éboulement. La société de musique donnera "
             "dimanche un concert sur la place du marché au profit des pauvres. Les cours des blés restent fermes; on "
             "cote l'avoine à la hausse. On demande une bonne cuisinière sachant bien lire. ";
    case Language::german:
      return "Gestern abend gegen neun Uhr brach in der Scheune des Gastwirtes am Unteren Tor ein Feuer aus, welches "
             "durch das rasche Eingreifen der Nachbarn bald gelöscht wurde. Die Heuernte ist in diesem Jahre reichlich "
             "ausgefallen und die Preise sind gesunken. Der Gesangverein veranstaltet am kommenden Sonntag im großen "
             "Saale ein Konzert zum Besten der Armen. Zu verkaufen ein gut erhaltener Leiterwagen, billig. Der Verkehr "
             "über die neue Brücke wurde am Montag eröffnet. Ein tüchtiger Schreinergeselle findet sogleich dauernde "
             "Beschäftigung. Das Wetter bleibt trocken bei mäßigen Winden aus Nordwest. ";
    case Language::spanish:
      return "Ayer por la tarde llegó a este puerto el vapor correo con doscientos pasajeros y carga general para el "
             "comercio de la plaza. La junta de caminos acordó componer la calzada que conduce al mercado nuevo. Se "
             "alquila una casa espaciosa con huerta y agua corriente; darán razón en esta imprenta. Los labradores se "
             "quejan de la falta de lluvias y del precio del trigo. El domingo próximo habrá función de teatro en favor "
             "del hospital. Se ha perdido un reloj de plata entre la iglesia y el río. ";
    case Language::portuguese:
      return "Chegou hontem a este porto o vapor da carreira com passageiros e malas do norte. A camara municipal "
             "resolveu mandar concertar a ponte da ribeira antes das chuvas. Vende-se uma casa com quintal e poço na rua "
             "direita. Os lavradores queixam-se da falta de braços para a colheita do café. No domingo haverá festa na "
             "capella com musica e leilão de prendas. Precisa-se de um caixeiro que saiba ler e escrever bem. ";
    case Language::dutch:
      return "Gisteren is de mailboot met twee dagen vertraging in de haven aangekomen; alle passagiers zijn wel. De "
             "gemeenteraad besloot de brug over de vaart te doen herstellen vóór den winter. Te koop een sterk bruin "
             "paard, zes jaar oud. De prijzen van de boter bleven onveranderd. Zondag zal het muziekgezelschap een "
             "uitvoering geven ten bate van de armen. Gevraagd een nette dienstbode, goed kunnende koken. Het weer "
             "blijft droog met matigen wind uit het noordwesten. ";
    case Language::italian:
      return "Il consiglio comunale si è riunito ieri sera per deliberare intorno alla nuova strada della valle. Il "
             "piroscafo postale è giunto in porto con due giorni di ritardo a cagione del mare grosso. Si vende un carro "
             "in ottimo stato; rivolgersi al tipografo. La raccolta delle castagne promette bene. Domenica la banda "
             "suonerà in piazza a beneficio dei poveri. I prezzi del grano restano fermi e quelli del fieno in ribasso. ";
  }
  return "";
}

}  // namespace

std::vector<PlacedLine> set_newsprint(const FontShelf& shelf, const Polygon& paper_mm, Language language, std::size_t ink, Random& random) {
  std::vector<std::string> words;
  {
    std::istringstream stream(news(language));
    for (std::string word; stream >> word;) words.push_back(word);
  }
  std::vector<const char*> families{"libre-baskerville", "im-fell-dw-pica", "goudy-bookletter-1911", "eb-garamond", "linden-hill"};
  if (language == Language::german && random.chance(0.6)) families = {"unifrakturmaguntia"};
  Lettering body{&shelf.named(random.pick(families)), LineKind::newsprint, random.between(1.15, 1.45), 0, 0};
  Lettering heading = body;
  heading.x_height_mm *= random.between(1.5, 2.2);

  const double direction = random.pick({45.0, -45.0, 135.0, 0.0, 90.0, -90.0, 180.0}) + random.normal(0, 2.5);
  const Polygon region = turned(paper_mm, -direction);
  const Bounds room = bounds(region);
  const double pitch = body.x_height_mm * random.between(2.15, 2.5);
  const double column = random.between(38, 58);
  const double gutter = random.between(2.5, 4.0);
  const double sample = set_line(shelf, body, "the quick brown mail steamer in harbour", Random{1}).ink_mm.width() / 39.0;

  std::vector<PlacedLine> out;
  const auto keep = [&](const Lettering& lettering, const std::string& text, double x, double y, bool justify) {
    const SetLine set = set_line(shelf, lettering, text, Random{1});
    const double stretch = justify ? std::clamp(column / set.ink_mm.width(), 0.8, 1.2) : 1.0;
    const double width = std::min(set.ink_mm.width() * stretch, column + 1.0);
    const auto upper = span_at(region, y + set.ink_mm.top * 0.8);
    const auto lower = span_at(region, y);
    const double from = std::max({upper.first, lower.first, x});
    const double to = std::min({upper.second, lower.second, x + width});
    if (to - from < 2.0) return;
    const Cut cut = characters_between(shelf, lettering, text, (from - x) / stretch + set.ink_mm.left, (to - x) / stretch + set.ink_mm.left);
    if (cut.text.size() < 3) return;
    PlacedLine line;
    line.set = set;
    line.text = cut.text;
    while (!line.text.empty() && line.text.front() == ' ') line.text.erase(0, 1);
    while (!line.text.empty() && line.text.back() == ' ') line.text.pop_back();
    line.ink = ink;
    line.stretch = stretch;
    line.turned_deg = direction;
    line.start_mm = turned(Point{x - set.ink_mm.left, y}, direction);
    line.polygon_mm = turned(rectangle(x + (cut.left_mm - set.ink_mm.left) * stretch, y + set.ink_mm.top - 0.1,
                                       x + (cut.right_mm - set.ink_mm.left) * stretch, y + set.ink_mm.bottom + 0.1),
                             direction);
    out.push_back(line);
  };

  std::size_t word = static_cast<std::size_t>(random.whole(0, static_cast<int>(words.size()) - 1));
  const double first = room.left - random.unit() * column;
  for (double x = first; x < room.right; x += column + gutter) {
    double y = room.top - random.unit() * 4;
    int until_heading = random.whole(3, 16);
    while (y < room.bottom + 3) {
      if (until_heading-- == 0) {
        std::string text = words[word % words.size()] + " " + words[(word + 1) % words.size()] + " " + words[(word + 2) % words.size()];
        y += heading.x_height_mm * 1.6;
        keep(heading, text, x + column * 0.1, y, false);
        y += pitch * 1.3;
        until_heading = random.whole(8, 22);
        continue;
      }
      std::string text;
      while (static_cast<double>(text.size()) * sample < column * 0.98) {
        if (!text.empty()) text += ' ';
        text += words[word++ % words.size()];
      }
      keep(body, text, x, y, true);
      y += pitch;
    }
  }
  return out;
}

}  // namespace papillote::samples
