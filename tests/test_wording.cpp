// SPDX-License-Identifier: MIT
#include <limits>

#include <catch2/catch.hpp>

#include "sim/studies/sweep/sweep.hpp"
#include "sim/wording.hpp"

using namespace arris;

TEST_CASE("lists are joined as sentences have them") {
  CHECK(and_list({}).empty());
  CHECK(and_list({"a"}) == "a");
  CHECK(and_list({"a", "b", "c"}) == "a, b and c");
  // nobody reads hundreds of names
  CHECK(and_list(std::vector<std::string>(24, "x")).size() == 24 + 22 * 2 + 5);
  CHECK(and_list(std::vector<std::string>(300, "x")) == "x, x, x, x, x, x, x, x, x, x, x, x … and 288 more");
  CHECK(or_list({"a", "b"}) == "a or b");
  CHECK(or_list({"a", "b", "c"}, 2) == "a, b … and 1 more");
}

TEST_CASE("counts have their plural") {
  CHECK(counted(1, "edge") == "1 edge");
  CHECK(counted(0, "edge") == "0 edges");
  CHECK(counted(2, "pass", "passes") == "2 passes");
}

TEST_CASE("numbers are rounded alike wherever a sentence has one") {
  CHECK(plain(0.06571) == "0.0657");
  CHECK(plain(1234.4) == "1234");
  CHECK(plain(2.0) == "2");
  CHECK(plain(std::numeric_limits<double>::quiet_NaN()).empty());
  CHECK(percent(0.084) == "8.4 %");
  CHECK(percent(0.37) == "37 %");
  CHECK(percent(0.995) == "99.5 %");  // not all
  CHECK(percent(1.0) == "100 %");
  CHECK(short_number(0.254) == "0.25");
  CHECK(short_number(0.001) == "0");
}

TEST_CASE("a share of a sweep is read whole or not at all") {
  const auto share = shard_of("3/20");
  REQUIRE(share);
  CHECK(share->index == 3);
  CHECK(share->count == 20);
  CHECK(share->text() == "3/20");
  for (const char* text : {"", "3", "3/", "/20", "0/2", "3/2", "1/2x", "x1/2", "1/2/3", " 1/2", "-1/2"}) {
    CAPTURE(text);
    CHECK_FALSE(shard_of(text));
  }
}
