// The data of a bundle as rows of its page. Private to this folder.
#pragma once

#include "host-tool/bundle/data.hpp"

namespace kainjow::mustache {
template <typename string_type>
class basic_data;
using data = basic_data<std::string>;
}  // namespace kainjow::mustache

namespace strandproof::host::bundle {

// Fields seen, clocks, instructions, tables, columns, history, entries, records and documents.
void add_rows(kainjow::mustache::data& page, const Data& data);

}  // namespace strandproof::host::bundle
