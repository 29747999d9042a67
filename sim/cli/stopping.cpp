// SPDX-License-Identifier: MIT
#include "sim/cli/stopping.hpp"

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cmath>
#include <csignal>
#include <cstdlib>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <unistd.h>

#include "sim/output/terminal.hpp"

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define ARRIS_SANITIZED
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define ARRIS_SANITIZED
#endif
#endif

namespace arris::cli {
namespace {

// a handler may touch nothing that takes a lock
StopWish         wish;
std::atomic<int> heard_signal{0};
double           most_hours = 0.0, most_megabytes = 0.0;

extern "C" void hear(int signal) {
  heard_signal.store(signal, std::memory_order_relaxed);
  wish.make();
}

void listen_to(int signal) {
  struct sigaction action = {};
  action.sa_handler       = &hear;
  // one that waits for the disk goes on waiting; a second signal finds no handler
  action.sa_flags = SA_RESTART | static_cast<int>(SA_RESETHAND);
  sigemptyset(&action.sa_mask);
  ::sigaction(signal, &action, nullptr);
}

}  // namespace

const StopWish* stop_on_signals() {
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    struct sigaction before = {};
    ::sigaction(signal, nullptr, &before);
    // a shell that puts work aside with & wants SIGINT ignored, and nohup SIGHUP
    if (before.sa_handler != SIG_IGN) listen_to(signal);
  }
  return &wish;
}

void keep_standard_streams() {
  for (const int descriptor : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) {
    if (::fcntl(descriptor, F_GETFD) != -1 || errno != EBADF) continue;
    // the lowest number that is free is this one, since those below it are open by now
    const int way = descriptor == STDERR_FILENO ? O_WRONLY : O_RDONLY;
    if (::open("/dev/null", way) == -1) return;
  }
  std::signal(SIGPIPE, SIG_IGN);
}

void end_without_reader() {
  std::signal(SIGPIPE, SIG_DFL);
  std::raise(SIGPIPE);
  std::_Exit(128 + SIGPIPE);
}

void stop_after_hours(double hours) {
  most_hours = hours;
  listen_to(SIGALRM);
  const double seconds = 3600.0 * hours, whole = std::floor(seconds);
  itimerval    once = {};
  once.it_value     = {static_cast<time_t>(whole), static_cast<suseconds_t>(1e6 * (seconds - whole))};
  ::setitimer(ITIMER_REAL, &once, nullptr);
}

void limit_memory(double megabytes) {
  most_megabytes = megabytes;
#ifndef ARRIS_SANITIZED
  rlimit limit;
  if (::getrlimit(RLIMIT_DATA, &limit) != 0) return;
  const double most = limit.rlim_max == RLIM_INFINITY ? 1e18 : static_cast<double>(limit.rlim_max);
  limit.rlim_cur    = static_cast<rlim_t>(std::min(1e6 * megabytes, most));
  ::setrlimit(RLIMIT_DATA, &limit);
#endif
}

double memory_limit_MB() { return most_megabytes; }

Exit stopped(const std::string& kept) {
  const int signal = heard_signal.load(std::memory_order_relaxed);
  if (signal != SIGALRM) {
    tell(wrapped("stopped as asked: " + kept));
    return signal == SIGTERM ? Exit::terminated : signal == SIGHUP ? Exit::hung_up : Exit::interrupted;
  }
  tell(fmt::format("error: the work took longer than [computer] max_time_h = {:g} h [time-limit]\n{}",
                   most_hours, wrapped(kept, text_width(), 2)));
  return Exit::integration;
}

}  // namespace arris::cli
