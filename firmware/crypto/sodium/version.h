/* Stands in for the header that the library's own configure step would generate. Its other headers
   expect the include guard's name and export.h; none of the version functions is built here. */
#ifndef sodium_version_H
#define sodium_version_H

#include "export.h"

#endif
