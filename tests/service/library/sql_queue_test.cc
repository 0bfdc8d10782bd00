#include "tests/service/library/queue_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, QueueContract, testing::Values(SqliteFactory()), FactoryName);

}  // namespace
}  // namespace gaitshelf::service
