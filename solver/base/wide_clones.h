// Marks a loop that takes much of a solve's time.
#ifndef GAITSHELF_SOLVER_BASE_WIDE_CLONES_H_
#define GAITSHELF_SOLVER_BASE_WIDE_CLONES_H_

// The function is compiled for machines with and without wide registers; the program picks at its
// start: before the thread sanitizer is ready for instrumented code, so not under that.
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && !defined(__SANITIZE_THREAD__)
#define GAITSHELF_WIDE_CLONES __attribute__((target_clones("arch=x86-64-v3", "default")))
// The same without fused products and sums: results are the same to the last digit everywhere.
#define GAITSHELF_WIDE_CLONES_UNFUSED __attribute__((target_clones("avx2", "default")))
#else
#define GAITSHELF_WIDE_CLONES
#define GAITSHELF_WIDE_CLONES_UNFUSED
#endif

#endif  // GAITSHELF_SOLVER_BASE_WIDE_CLONES_H_
