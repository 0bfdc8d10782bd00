// From the SQL that the library's statements and tables are written in to PostgreSQL's. Only what
// that SQL uses is translated; see sql_schema.h.
#ifndef GAITSHELF_SERVICE_LIBRARY_POSTGRES_DIALECT_H_
#define GAITSHELF_SERVICE_LIBRARY_POSTGRES_DIALECT_H_

#include <string>

#include "absl/strings/string_view.h"

namespace gaitshelf::service {

// Parameters ?1 become $1, outside of quoted text.
std::string ToPostgresStatement(absl::string_view sql);

// Types of columns, numbered keys and triggers that raise an error. Text is compared byte by byte,
// as SQLite does, whatever the language of the database.
std::string ToPostgresSchema(const std::string& sql);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_POSTGRES_DIALECT_H_
