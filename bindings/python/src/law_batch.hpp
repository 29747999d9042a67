// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <exception>
#include <functional>
#include <vector>

#include "campaign.hpp"

#ifdef ARRIS_WITH_FIBERS
#include <boost/context/fiber.hpp>
#endif

/// Many histories on one thread that ask a wear law of Python together.
namespace arris::python {

#ifdef ARRIS_WITH_FIBERS

/// Runs pieces of work as fibres, each on a stack of its own. One that asks for a rate waits until all others do or have ended; then the
/// law is called once, with an array of all that was asked. What each is given does not depend on the others, so that results do not either.
class LawBatch {
 public:
  explicit LawBatch(PyLaw& law) : law_(law) {}

  /// Calls work(0) … work(count − 1). Throws on what one of them threw first, after all have ended.
  void run(std::size_t count, const std::function<void(std::size_t)>& work);

  /// The one that runs on this thread; nullptr where none does.
  [[nodiscard]] static LawBatch* current();
  /// Waits for the rate at `values`. Only in a piece of work.
  [[nodiscard]] double rate(const double* values);

 private:
  struct Piece {
    boost::context::fiber fiber, scheduler;
    const double*         asks =
        nullptr;  ///< the values at which it waits for a rate, on its own stack; nullptr: it does not
    bool ended = false;
  };
  void resume(std::size_t piece);
  void answer();

  PyLaw&                   law_;
  std::vector<Piece>       pieces_;
  std::size_t              running_ = 0;
  std::vector<std::size_t> waiting_;  ///< pieces that ask
  std::vector<double>      asked_;    ///< by argument of the law, then by piece that asks
  std::vector<double>      answers_;  ///< by piece
  std::exception_ptr       failure_;
};

#endif

/// work(first, end) over `count` rows, in as many pieces as serve a law that takes arrays; in one piece for any other.
void for_rows_of(const PyCampaign& of, std::size_t count,
                 const std::function<void(std::size_t first, std::size_t end)>& work);

}  // namespace arris::python
