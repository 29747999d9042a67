// SPDX-License-Identifier: MIT
#include "sim/cli/stopping.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <csignal>

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
StopWish          wish;
std::atomic<bool> time_is_over{false};
double            most_hours = 0.0, most_megabytes = 0.0;

extern "C" void hear(int signal) {
  if (signal == SIGALRM) time_is_over.store(true, std::memory_order_relaxed);
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
  struct sigaction before = {};
  ::sigaction(SIGINT, nullptr, &before);
  if (before.sa_handler != SIG_IGN)
    listen_to(SIGINT);  // a shell that puts work aside with & wants it ignored
  return &wish;
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
  if (!time_is_over.load(std::memory_order_relaxed)) {
    fmt::print(stderr, "{}", wrapped("stopped as asked: " + kept));
    return Exit::interrupted;
  }
  fmt::print(stderr, "error: the work took longer than [computer] max_time_h = {:g} h [time-limit]\n{}",
             most_hours, wrapped(kept, 100, 2));
  return Exit::integration;
}

}  // namespace arris::cli
