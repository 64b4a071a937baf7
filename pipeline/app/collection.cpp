#include "pipeline/app/collection.h"

#include "pipeline/app/trouble.h"

namespace papillote::app {

ExitCode with_collection(const std::string& collection, store::Access access,
                         const std::function<ExitCode(store::Store&)>& work) {
  auto store = store::Store::open(collection, access);
  if (!store.ok()) return said(store.failure());
  try {
    return work(*store);
  } catch (const store::Trouble& trouble) {
    return said(trouble.failure);
  }
}

}  // namespace papillote::app
