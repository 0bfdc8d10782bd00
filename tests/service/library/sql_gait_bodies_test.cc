#include "tests/service/library/gait_bodies_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, GaitBodiesContract, testing::Values(SqliteFactory()), FactoryName);

}  // namespace
}  // namespace gaitshelf::service
