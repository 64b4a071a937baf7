// The layout of the store, version 1. Tables that can be recomputed: answer, standing, entry and what hangs on it. Tables
// that cannot: envelope, view, joined, decision, movement.
#pragma once

namespace papillote::store {

inline constexpr const char* kSchema = R"sql(
CREATE TABLE photograph (
  key INTEGER PRIMARY KEY,
  folder TEXT NOT NULL,          -- absolute, of the photographs' folder
  path TEXT NOT NULL,            -- relative to it, '/' between parts
  size_bytes INTEGER,            -- of the file when its digest was taken; null = never read
  modified_ns INTEGER,
  sha256 TEXT NOT NULL DEFAULT '',
  missing INTEGER NOT NULL DEFAULT 0,
  failure TEXT,                  -- JSON of the failure it stands with
  in_hand INTEGER NOT NULL DEFAULT 0,       -- a batch works on it
  left_in_hand INTEGER NOT NULL DEFAULT 0,  -- batches that ended without a word meanwhile
  crashes INTEGER NOT NULL DEFAULT 0,       -- times the program crashed on it
  outcome TEXT,                  -- canonical JSON of its PhotoIndex, ids filled, decisions not applied
  outcome_digest TEXT,           -- of what the line said, to leave equal outcomes alone
  retake INTEGER NOT NULL DEFAULT 0,
  UNIQUE (folder, path)
);
CREATE INDEX photograph_sha256 ON photograph (sha256);
CREATE TABLE answer (            -- what a step answered, failures included
  key TEXT PRIMARY KEY,          -- digest of everything that could change it
  stage TEXT NOT NULL,
  body TEXT NOT NULL,            -- canonical text of a Result
  digest TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE standing (          -- the steps of a photograph as they stand, and why each ran
  photograph INTEGER NOT NULL REFERENCES photograph (key) ON DELETE CASCADE,
  number INTEGER NOT NULL,
  stage TEXT NOT NULL,
  key TEXT NOT NULL,
  ingredients TEXT NOT NULL,     -- JSON: version, options, inputs
  reason TEXT NOT NULL,
  PRIMARY KEY (photograph, number)
) WITHOUT ROWID;
CREATE TABLE envelope (          -- an identity, minted once and never given to another
  id TEXT PRIMARY KEY,
  catalogue_number TEXT
) WITHOUT ROWID;
CREATE INDEX envelope_catalogue_number ON envelope (catalogue_number) WHERE catalogue_number IS NOT NULL;
CREATE TABLE view (              -- an envelope as one photograph shows it
  sha256 TEXT NOT NULL,          -- of the photograph
  own_id TEXT NOT NULL,          -- minted from this view
  id TEXT NOT NULL,              -- what it stands for: its own, or that of its catalogue number
  polygon TEXT NOT NULL,         -- JSON, px
  retired INTEGER NOT NULL DEFAULT 0,  -- no longer found there
  PRIMARY KEY (sha256, own_id)
) WITHOUT ROWID;
CREATE INDEX view_id ON view (id);
CREATE TABLE joined (            -- an id that turned out to be another's
  old_id TEXT PRIMARY KEY,
  new_id TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE entry (             -- one view of one envelope, as search sees it
  row INTEGER PRIMARY KEY,
  photograph INTEGER NOT NULL REFERENCES photograph (key) ON DELETE CASCADE,
  id TEXT NOT NULL,
  catalogue_number TEXT NOT NULL,
  tin TEXT NOT NULL,
  sheet TEXT NOT NULL,
  side TEXT NOT NULL,
  position INTEGER NOT NULL,     -- 1, 2, ... in reading order of the sheet
  photo TEXT NOT NULL,           -- path
  text TEXT NOT NULL,
  date TEXT NOT NULL,            -- EDTF, or verbatim with '?'
  first_day INTEGER,             -- since 1970-01-01
  last_day INTEGER,
  place TEXT NOT NULL,
  country TEXT NOT NULL,
  lat_deg REAL,
  lon_deg REAL,
  collector TEXT NOT NULL,
  taxon TEXT NOT NULL,
  level TEXT NOT NULL,
  score REAL NOT NULL,
  findings TEXT NOT NULL,        -- JSON: [[kind, severity], ...]
  text_confidence REAL NOT NULL,
  place_open INTEGER NOT NULL,
  settled TEXT NOT NULL,         -- JSON: terms a person decided
  words TEXT NOT NULL,           -- folded, for search
  place_words TEXT NOT NULL,
  folded_taxon TEXT NOT NULL,
  record TEXT NOT NULL           -- JSON of the IndexRecord, decisions not applied
);
CREATE INDEX entry_photograph ON entry (photograph);
CREATE INDEX entry_id ON entry (id);
CREATE INDEX entry_shelf ON entry (tin, sheet, position);
CREATE INDEX entry_score ON entry (score);
CREATE INDEX entry_level ON entry (level, score);
CREATE INDEX entry_taxon ON entry (folded_taxon);
CREATE TABLE entry_finding (kind TEXT NOT NULL, severity INTEGER NOT NULL, row INTEGER NOT NULL, PRIMARY KEY (kind, severity, row)) WITHOUT ROWID;
CREATE INDEX entry_finding_row ON entry_finding (row);
CREATE VIRTUAL TABLE entry_words USING fts5 (words, place_words, content = 'entry', content_rowid = 'row', prefix = '2 3');
CREATE VIRTUAL TABLE entry_point USING rtree (row, south, north, west, east);
CREATE VIRTUAL TABLE entry_days USING rtree (row, first, last);
CREATE TABLE word (word TEXT PRIMARY KEY, uses INTEGER NOT NULL, number INTEGER UNIQUE) WITHOUT ROWID;
CREATE VIRTUAL TABLE word_letters USING fts5 (word, tokenize = 'trigram', detail = 'none', content = '');
CREATE TABLE decision (          -- what people settled: append-only
  number INTEGER PRIMARY KEY,
  envelope_id TEXT NOT NULL,
  term TEXT NOT NULL,
  value TEXT NOT NULL,           -- JSON; 'null' = settled that there is none; '' = taken back
  who TEXT NOT NULL,
  at TEXT NOT NULL,              -- ISO 8601 instant
  note TEXT NOT NULL,
  first_day INTEGER,
  last_day INTEGER
);
CREATE INDEX decision_envelope ON decision (envelope_id);
CREATE TABLE movement (          -- where each envelope has been: append-only
  number INTEGER PRIMARY KEY,
  envelope_id TEXT NOT NULL,
  kind TEXT NOT NULL,
  who TEXT NOT NULL,
  at TEXT NOT NULL,
  place TEXT NOT NULL,
  note TEXT NOT NULL
);
CREATE INDEX movement_envelope ON movement (envelope_id);
)sql";

}  // namespace papillote::store
