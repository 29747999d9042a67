// SPDX-License-Identifier: MIT
#include "law_batch.hpp"

#include <algorithm>
#include <memory>
#include <utility>

#ifdef ARRIS_WITH_FIBERS
#include <boost/context/protected_fixedsize_stack.hpp>
#endif

namespace arris::python {

#ifdef ARRIS_WITH_FIBERS

namespace {

// bytes of a piece's stack; only what is used of it takes memory
constexpr std::size_t stack_bytes = 1 << 20;

thread_local LawBatch* batch_here = nullptr;

// the batch of this thread while it lives
struct Here {
  explicit Here(LawBatch* batch) { batch_here = batch; }
  ~Here() { batch_here = nullptr; }
  Here(const Here&)            = delete;
  Here& operator=(const Here&) = delete;
};

}  // namespace

LawBatch* LawBatch::current() { return batch_here; }

void LawBatch::run(std::size_t count, const std::function<void(std::size_t)>& work) {
  namespace context = boost::context;
  pieces_           = std::vector<Piece>(count);
  answers_.assign(count, 0.0);
  for (std::size_t i = 0; i < count; ++i) {
    pieces_[i].fiber = context::fiber(std::allocator_arg, context::protected_fixedsize_stack(stack_bytes),
                                      [this, i, &work](context::fiber&& scheduler) {
                                        pieces_[i].scheduler = std::move(scheduler);
                                        try {
                                          work(i);
                                        } catch (...) {  // thrown on by run
                                          if (!failure_) failure_ = std::current_exception();
                                        }
                                        pieces_[i].ended = true;
                                        return std::move(pieces_[i].scheduler);
                                      });
  }
  const Here here(this);
  for (std::size_t left = count; left > 0;) {
    left = 0;
    for (std::size_t i = 0; i < count; ++i) {
      if (pieces_[i].ended) continue;
      resume(i);
      left += pieces_[i].ended ? 0 : 1;
    }
    if (left > 0) answer();
  }
  if (failure_) std::rethrow_exception(failure_);
}

void LawBatch::resume(std::size_t piece) {
  running_             = piece;
  pieces_[piece].asks  = nullptr;
  pieces_[piece].fiber = std::move(pieces_[piece].fiber).resume();
}

double LawBatch::rate(const double* values) {
  const std::size_t i     = running_;
  Piece&            piece = pieces_[i];
  piece.asks              = values;
  piece.scheduler         = std::move(piece.scheduler).resume();
  return answers_[i];
}

void LawBatch::answer() {
  const std::size_t arguments = law_.arguments().size();
  waiting_.clear();
  for (std::size_t i = 0; i < pieces_.size(); ++i) {
    if (pieces_[i].asks != nullptr) waiting_.push_back(i);
  }
  asked_.resize(arguments * waiting_.size());
  for (std::size_t w = 0; w < waiting_.size(); ++w) {
    const double* const values = pieces_[waiting_[w]].asks;
    for (std::size_t a = 0; a < arguments; ++a) asked_[a * waiting_.size() + w] = values[a];
  }
  const std::vector<double> rates = law_.rates(asked_, waiting_.size());
  for (std::size_t w = 0; w < waiting_.size(); ++w) answers_[waiting_[w]] = rates[w];
}

#endif

void for_rows_of(const PyCampaign& of, std::size_t count,
                 const std::function<void(std::size_t first, std::size_t end)>& work) {
#ifdef ARRIS_WITH_FIBERS
  // each piece sets a model up, which takes as long as some rows do; a call of numpy as long as a hundred numbers in it
  constexpr std::size_t rows_per_piece = 8, most_pieces = 256;
  const std::size_t     pieces = std::clamp<std::size_t>(count / rows_per_piece, 1, most_pieces);
  if (of.law && of.law->takes_arrays() && pieces > 1) {
    LawBatch(*of.law).run(pieces, [&](std::size_t i) { work(count * i / pieces, count * (i + 1) / pieces); });
    return;
  }
#else
  (void)of;
#endif
  work(0, count);
}

}  // namespace arris::python
