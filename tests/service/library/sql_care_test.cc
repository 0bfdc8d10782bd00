// Covers service/library/sql_garbage.cc
#include "tests/service/library/care_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, CareContract, testing::Values(SqliteFactory()), FactoryName);

}  // namespace
}  // namespace gaitshelf::service
