// SPDX-License-Identifier: MIT
#pragma once

#include <atomic>
#include <exception>
#include <string>
#include <utility>

/// A long study can be stopped from another thread: whoever runs it listens to a wish, and every loop over histories, on
/// whatever thread, looks whether it was made.
///
///     StopWish wish;                              // shared with the thread that may make it
///     const Listening listening(&wish);
///     fit(model);                                 // throws Stopped soon after wish.make()
namespace arris {

/// What a study throws when it was asked to stop. Nothing of it remains, save where somebody on the way keeps a part, and says so.
class Stopped : public std::exception {
 public:
  Stopped() = default;
  /// `kept` tells what there is of the work and how to go on, a clause or more.
  explicit Stopped(std::string kept) : kept_(std::move(kept)) {}
  /// Empty where nothing is kept.
  [[nodiscard]] const std::string& kept() const noexcept { return kept_; }
  [[nodiscard]] const char*        what() const noexcept override { return "stopped as asked"; }

 private:
  std::string kept_;
};

class StopWish {
 public:
  void               make() { made_.store(true, std::memory_order_relaxed); }
  [[nodiscard]] bool is_made() const { return made_.load(std::memory_order_relaxed); }

 private:
  std::atomic<bool> made_{false};
};

namespace detail {
inline thread_local const StopWish* heard = nullptr;
}

/// The wish that this thread listens to; nullptr for none.
[[nodiscard]] inline const StopWish* stop_wish() { return detail::heard; }

/// As long as it lives, this thread listens to `wish`.
class Listening {
 public:
  explicit Listening(const StopWish* wish) : before_(detail::heard) { detail::heard = wish; }
  ~Listening() { detail::heard = before_; }
  Listening(const Listening&)            = delete;
  Listening& operator=(const Listening&) = delete;

 private:
  const StopWish* before_;
};

/// Throws Stopped where that was wished for.
inline void stop_if_wished() {
  if (detail::heard != nullptr && detail::heard->is_made()) throw Stopped();
}

}  // namespace arris
