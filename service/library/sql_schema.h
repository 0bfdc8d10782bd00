// The tables of the library, and the steps that bring an older library up to date.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_SCHEMA_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_SCHEMA_H_

#include <string>
#include <vector>

namespace gaitshelf::service {

// Statements that lead from schema n to schema n + 1; element 0 makes the tables in an empty
// database. Written for SQLite, with the types INTEGER, REAL, TEXT and BLOB; postgres_dialect.h
// says what is translated for PostgreSQL. Never change an element that was released: add one.
const std::vector<std::string>& LibrarySchemaSteps();

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_SCHEMA_H_
