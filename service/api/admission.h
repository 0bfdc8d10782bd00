// Counts long calls, so that overload is refused at once instead of piling up threads.
#ifndef GAITSHELF_SERVICE_API_ADMISSION_H_
#define GAITSHELF_SERVICE_API_ADMISSION_H_

#include <atomic>

namespace gaitshelf::service {

class Admission {
 public:
  explicit Admission(int limit) : limit_(limit) {}

  int limit() const { return limit_; }
  int count() const { return count_; }

  // One place, given back when it goes.
  class Place {
   public:
    explicit Place(Admission* admission)
        : admission_(admission), is_taken_(admission->count_++ < admission->limit_) {}
    ~Place() { --admission_->count_; }
    Place(const Place&) = delete;
    Place& operator=(const Place&) = delete;

    bool is_taken() const { return is_taken_; }

   private:
    Admission* admission_;
    bool is_taken_;
  };

 private:
  const int limit_;
  std::atomic<int> count_{0};
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_ADMISSION_H_
