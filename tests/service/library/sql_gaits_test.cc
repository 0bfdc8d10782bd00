// Covers service/library/sql_surfaces.cc
#include "tests/service/library/gaits_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, GaitsContract, testing::Values(SqliteFactory()), FactoryName);

}  // namespace
}  // namespace gaitshelf::service
