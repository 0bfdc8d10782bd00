#include "tests/service/library/attempts_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, AttemptsContract, testing::Values(SqliteFactory()), FactoryName);

}  // namespace
}  // namespace gaitshelf::service
