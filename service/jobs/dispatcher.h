// What every way of running a library's queued jobs has in common. local_dispatcher.h runs them on
// this machine, slurm_dispatcher.h on a cluster.
#ifndef GAITSHELF_SERVICE_JOBS_DISPATCHER_H_
#define GAITSHELF_SERVICE_JOBS_DISPATCHER_H_

namespace gaitshelf::service {

class Dispatcher {
 public:
  Dispatcher() = default;
  Dispatcher(const Dispatcher&) = delete;
  Dispatcher& operator=(const Dispatcher&) = delete;
  virtual ~Dispatcher() = default;

  // Looks at the queue at once instead of at the next round. Call after OrderJob or RequestCancel.
  virtual void Wake() = 0;
  // Ends the dispatching; what becomes of the workers the implementations say. The destructor does
  // the same.
  virtual void Stop() = 0;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_DISPATCHER_H_
