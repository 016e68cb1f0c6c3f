// The data of a bundle as rows of its page. Private to this folder.
#pragma once

#include "host-tool/bundle/data.hpp"
#include "host-tool/report/template_data.hpp"

namespace strandproof::host::bundle {

// Fields seen, clocks, instructions, tables, columns, history, entries, records and documents.
void add_rows(kainjow::mustache::data& page, const Data& data);

}  // namespace strandproof::host::bundle
