// Arrays of three numbers, x, y, z, as descriptions hold them.
#ifndef GAITSHELF_SOLVER_ROBOT_TRIPLE_H_
#define GAITSHELF_SOLVER_ROBOT_TRIPLE_H_

#include <string>

#include <google/protobuf/repeated_field.h>

namespace gaitshelf::solver {

using Triple = google::protobuf::RepeatedField<double>;
inline constexpr int kTripleCount = 3;

// Returns whether there are three numbers, all finite. Rules about several numbers wait for it;
// what is wrong otherwise is told by the rules of single fields.
bool IsFiniteTriple(const Triple& triple);

double Norm(double x, double y, double z);

// "[0, 0, 1]"
std::string TripleText(const Triple& triple);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_TRIPLE_H_
