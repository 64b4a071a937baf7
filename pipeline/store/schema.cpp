#include "pipeline/store/schema.h"

#include <array>

#include "pipeline/store/store.h"

namespace papillote::store {
namespace {

constexpr const char* kVersion1 = R"sql(
-- Folders that photographs were taken from.
CREATE TABLE folder(
  key INTEGER PRIMARY KEY,
  path TEXT NOT NULL UNIQUE              -- absolute when it was last used
);

-- One row per photograph file ever seen.
CREATE TABLE photograph(
  key INTEGER PRIMARY KEY,
  folder INTEGER NOT NULL REFERENCES folder,
  path TEXT NOT NULL,                    -- relative to the folder, '/' between parts
  size_bytes INTEGER,                    -- with modified_ns: an unchanged file is not read again
  modified_ns INTEGER,
  sha256 TEXT NOT NULL DEFAULT '',       -- of the file's bytes when size and time stamp were taken
  missing INTEGER NOT NULL DEFAULT 0,    -- 1 = not there at the last batch
  in_hand INTEGER NOT NULL DEFAULT 0,    -- attempts begun since the last outcome
  crashes INTEGER NOT NULL DEFAULT 0,    -- of them, those in which the program noted a crash on it
  outcome TEXT,                          -- digest of the outcome that the rows below were made from
  failure TEXT,                          -- Failure as JSON, nothing when it stands done
  photo TEXT,                            -- Photo as JSON
  calibration TEXT,                      -- Calibration as JSON
  UNIQUE(folder, path)
);
CREATE INDEX photograph_content ON photograph(sha256);

-- Answers of steps; may be deleted and computed again.
CREATE TABLE result(
  id INTEGER PRIMARY KEY,
  key TEXT NOT NULL UNIQUE,              -- digest of all that could change the answer
  stage TEXT NOT NULL,                   -- for people and for tidying
  digest TEXT NOT NULL,                  -- stands for the answer in the keys of later steps
  body TEXT NOT NULL                     -- Result as canonical JSON
);

-- How each step of each photograph stands.
CREATE TABLE standing(
  photograph INTEGER NOT NULL REFERENCES photograph ON DELETE CASCADE,
  place INTEGER NOT NULL,                -- 0, 1, 2 ... in the order of work
  stage TEXT NOT NULL,
  key TEXT NOT NULL,                     -- of its answer
  ingredients TEXT NOT NULL,             -- version, options and inputs that went into the key, as JSON
  reason TEXT NOT NULL,                  -- why it ran, in words
  PRIMARY KEY(photograph, place)
) WITHOUT ROWID;

-- Identity of envelopes: never deleted, an id never goes to another envelope.
CREATE TABLE envelope(
  key INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,               -- as printed
  catalogue_number TEXT UNIQUE,          -- from its slip
  joined_to INTEGER REFERENCES envelope  -- the envelope of the slip that lies by it, or that a person said it is
);
CREATE INDEX envelope_joined ON envelope(joined_to) WHERE joined_to IS NOT NULL;

-- What was last seen of an envelope in the photograph of this content; kept when it is no longer found there.
CREATE TABLE view(
  sha256 TEXT NOT NULL,
  own INTEGER NOT NULL REFERENCES envelope,    -- minted from this outline
  stands_for INTEGER NOT NULL REFERENCES envelope,  -- the same, or the envelope of the slip's number, before what people confirmed
  polygon TEXT NOT NULL,                 -- outline in photograph pixels, as JSON
  PRIMARY KEY(sha256, own)
) WITHOUT ROWID;

-- What a person settled. Append-only.
CREATE TABLE decision(
  key INTEGER PRIMARY KEY,
  envelope INTEGER NOT NULL REFERENCES envelope,
  term TEXT NOT NULL,
  value TEXT NOT NULL,                   -- JSON; 'null' = there is none; '' = decision taken back
  first_day INTEGER,                     -- of a decided date, days since 1970-01-01
  last_day INTEGER,
  who TEXT NOT NULL,
  at TEXT NOT NULL,                      -- ISO 8601 instant
  note TEXT NOT NULL
);
CREATE INDEX decision_envelope ON decision(envelope);
CREATE TRIGGER decision_stays BEFORE UPDATE ON decision BEGIN SELECT RAISE(ABORT, 'decisions are never changed'); END;
CREATE TRIGGER decision_kept BEFORE DELETE ON decision BEGIN SELECT RAISE(ABORT, 'decisions are never deleted'); END;

-- Where envelopes have been. Append-only.
CREATE TABLE movement(
  key INTEGER PRIMARY KEY,
  envelope INTEGER NOT NULL REFERENCES envelope,
  kind TEXT NOT NULL,
  who TEXT NOT NULL,
  at TEXT NOT NULL,                      -- ISO 8601 instant
  place TEXT NOT NULL,                   -- tin, board, drawer
  note TEXT NOT NULL
);
CREATE INDEX movement_envelope ON movement(envelope);
CREATE TRIGGER movement_stays BEFORE UPDATE ON movement BEGIN SELECT RAISE(ABORT, 'movements are never changed'); END;
CREATE TRIGGER movement_kept BEFORE DELETE ON movement BEGIN SELECT RAISE(ABORT, 'movements are never deleted'); END;

-- The index: what the machine says of each envelope in each photograph.
CREATE TABLE entry(
  photograph INTEGER NOT NULL REFERENCES photograph ON DELETE CASCADE,
  place INTEGER NOT NULL,                -- 0, 1, 2 ... in reading order of the sheet
  envelope INTEGER NOT NULL REFERENCES envelope,
  first_day INTEGER,                     -- days the date allows, since 1970-01-01
  last_day INTEGER,
  body TEXT NOT NULL,                    -- IndexRecord as canonical JSON
  UNIQUE(photograph, place)
);
CREATE INDEX entry_envelope ON entry(envelope);

-- One row per envelope for searching: all its views and decisions together.
CREATE TABLE search_row(
  envelope INTEGER PRIMARY KEY,
  words TEXT NOT NULL,                   -- folded words of text, place, collector, taxon and numbers, each between blanks
  maybe TEXT NOT NULL,                   -- folded words of other readings
  place_words TEXT NOT NULL,             -- folded words of the place as written and as resolved
  id TEXT NOT NULL,
  catalogue_number TEXT NOT NULL,
  shelf TEXT NOT NULL,                   -- sorts by tin, sheet, side, position, numbers by value
  tin TEXT NOT NULL,
  sheet TEXT NOT NULL,
  side TEXT NOT NULL,
  position INTEGER NOT NULL,             -- 1, 2 ... on the sheet
  photo TEXT NOT NULL,                   -- path of the view shown
  text TEXT NOT NULL,
  date TEXT NOT NULL,
  first_day INTEGER,
  last_day INTEGER,
  place TEXT NOT NULL,
  country TEXT NOT NULL,
  lat_deg REAL,
  lon_deg REAL,
  place_open INTEGER NOT NULL,           -- 1 = no place that is on the map
  collector TEXT NOT NULL,
  taxon TEXT NOT NULL,
  taxon_folded TEXT NOT NULL,
  level TEXT NOT NULL,
  score REAL NOT NULL,
  text_confidence REAL NOT NULL,
  findings TEXT NOT NULL,                -- kinds, joined by blanks
  settled TEXT NOT NULL                  -- decided terms, joined by blanks
);
CREATE INDEX search_shelf ON search_row(shelf);
CREATE INDEX search_tin ON search_row(tin);
CREATE INDEX search_score ON search_row(score);
CREATE INDEX search_level ON search_row(level);
CREATE INDEX search_taxon ON search_row(taxon_folded) WHERE taxon_folded <> '';
CREATE VIRTUAL TABLE search_words USING fts5(words, maybe, place_words, content='search_row', content_rowid='envelope',
  detail='column', prefix='3', tokenize="unicode61 remove_diacritics 2");
-- Days of an envelope without a date lie beyond all others.
CREATE VIRTUAL TABLE search_box USING rtree(envelope, lat_least, lat_most, lon_least, lon_most, first_day, last_day);
CREATE VIRTUAL TABLE search_days USING rtree(envelope, first_day, last_day);
CREATE TABLE search_finding(
  kind TEXT NOT NULL,
  envelope INTEGER NOT NULL,
  severity INTEGER NOT NULL,             -- the worst of its kind
  PRIMARY KEY(kind, envelope)
) WITHOUT ROWID;
CREATE INDEX search_finding_envelope ON search_finding(envelope);

-- Every word that ever occurred, and hashes of what is left of it when a letter is dropped: words that share
-- one are near misses.
CREATE TABLE word(
  key INTEGER PRIMARY KEY,
  word TEXT NOT NULL UNIQUE
);
CREATE TABLE word_trace(
  trace INTEGER NOT NULL,
  word INTEGER NOT NULL,
  PRIMARY KEY(trace, word)
) WITHOUT ROWID;
)sql";

constexpr const char* kVersion2 = R"sql(
ALTER TABLE photograph ADD COLUMN in_context INTEGER NOT NULL DEFAULT 0;  -- 1 = its tin was gone through with this outcome
UPDATE entry SET body = json_set(body, '$.alone', NULL);
)sql";

constexpr const char* kVersion3 = R"sql(
-- What a person settled about envelopes that were photographed again. Append-only; the latest of a pair stands.
CREATE TABLE sameness(
  key INTEGER PRIMARY KEY,
  newer INTEGER NOT NULL REFERENCES envelope,
  earlier INTEGER NOT NULL REFERENCES envelope,
  verdict TEXT NOT NULL,                 -- "same": the newer counts as the earlier; "other"; "taken back"
  who TEXT NOT NULL,
  at TEXT NOT NULL,                      -- ISO 8601 instant
  note TEXT NOT NULL
);
CREATE INDEX sameness_newer ON sameness(newer);
CREATE INDEX sameness_earlier ON sameness(earlier);
CREATE INDEX view_stands_for ON view(stands_for);
CREATE TRIGGER sameness_stays BEFORE UPDATE ON sameness BEGIN SELECT RAISE(ABORT, 'decisions are never changed'); END;
CREATE TRIGGER sameness_kept BEFORE DELETE ON sameness BEGIN SELECT RAISE(ABORT, 'decisions are never deleted'); END;
)sql";

constexpr const char* kVersion4 = R"sql(
-- Time in other units (search_box.h).
DROP TABLE search_box;
CREATE VIRTUAL TABLE search_box USING rtree(envelope, lat_least, lat_most, lon_least, lon_most, first_time, last_time);
INSERT INTO search_box SELECT envelope, lat_deg, lat_deg, lon_deg, lon_deg,
  coalesce(min(max(first_day / 3652500.0, -0.1), 0.1), -1.0), coalesce(min(max(last_day / 3652500.0, -0.1), 0.1), -1.0)
  FROM search_row WHERE lat_deg IS NOT NULL;
)sql";

constexpr std::array kMigrations{kVersion1, kVersion2, kVersion3, kVersion4};
static_assert(kMigrations.size() == kStoreVersion);

}  // namespace

std::span<const char* const> migrations() { return kMigrations; }

}  // namespace papillote::store
