// The template library's data, named only: its header costs seconds and belongs into the sources.
#pragma once

#include <string>

namespace kainjow::mustache {
template <typename string_type>
class basic_data;
using data = basic_data<std::string>;
}  // namespace kainjow::mustache
