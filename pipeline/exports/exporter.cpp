#include "pipeline/exports/exporter.h"

namespace papillote::exports {

Rows rows_of(store::Store& store) {
  return [&store](const std::function<void(const store::IndexedPhotograph&)>& take) {
    store::for_each_photograph(store, [&](const store::IndexedPhotograph& photograph) {
      store::IndexedPhotograph decided = photograph;
      for (IndexRecord& record : decided.index.envelopes) record = store::with_decisions(record, store::decisions_of(store, record.id));
      take(decided);
    });
  };
}

}  // namespace papillote::exports
