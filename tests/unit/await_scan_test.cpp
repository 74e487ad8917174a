// The scanner itself, on statements that g++ 12 was seen to miscompile (source: our own measurements) and on good ones.
#include "tests/unit/await_scan.h"

#include <boost/test/unit_test.hpp>

#include "tests/unit/source_text.h"

namespace lapwright::house {
namespace {

std::string first_trap(const std::string& statements) {
  const auto traps = await_traps("awaitable<void> procedure(Rig& rig) {\n" + statements + "\n}\n");
  return traps.empty() ? "" : std::to_string(traps.front().line) + ": " + traps.front().what;
}

BOOST_AUTO_TEST_SUITE(await_scan)

BOOST_AUTO_TEST_CASE(bad_statements_are_found) {
  BOOST_TEST(first_trap("co_await f(Options{1, 2});") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("co_await f({.a = 1});") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("const Pair p{co_await a(), 1};") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("co_return Pair{co_await a(), b};") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("co_await Object{1}.run();") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("co_await f(std::vector<int>{1});") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("co_await f(std::vector<P>{{1, 2}, {3}});") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("co_await f(good ? \"a\" : \"b\");") == "2: ?: beside co_await");
  BOOST_TEST(first_trap("co_await f([x] { return x; });") == "2: a capturing lambda beside co_await");
  BOOST_TEST(first_trap("co_await f(1,\n [&rig]() -> int { return 1; });") == "3: a capturing lambda beside co_await");
  BOOST_TEST(first_trap("co_await f(co_await g());") == "2: two co_await in one statement");
  BOOST_TEST(first_trap("while (co_await f(Options{1})) {\n}") == "2: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("if (a) {\n b();\n} else {\n co_await f(P{});\n}") ==
             "5: a braced initialiser beside co_await");
}

BOOST_AUTO_TEST_CASE(bad_statements_in_lambda_bodies_are_found) {
  BOOST_TEST(first_trap("play([&](Rig& r) -> asio::awaitable<void> {\n co_await f(P{1});\n});") ==
             "3: a braced initialiser beside co_await");
  BOOST_TEST(first_trap("auto x = [&] { co_await f(P{1}); };") == "2: a braced initialiser beside co_await");
}

BOOST_AUTO_TEST_CASE(good_statements_pass) {
  for (const char* good : {
           "co_await f(a, 1, \"{?}\");",
           "const P p{1, 2};\nco_await f(p);",
           "const int x = a ? 1 : 2;\nco_await f(x);",
           "const auto [error] = co_await f();",
           "const auto& [a, b] = co_await f();",
           "co_await f(list[2]);",
           "co_await f([] { return 1; });",
           "play([&](Rig& r) -> asio::awaitable<void> {\n co_await f();\n co_await g();\n});",
           "for (const int x : {1, 2}) {\n co_await f(x);\n}",
           "for (int i = 0; i < 3; ++i) co_await f(i);",
           "if (co_await f()) {\n co_await g();\n}",
           "try {\n co_await f();\n} catch (const Fault&) {\n g(P{});\n}",
           "co_await f(1'000); // co_await f({?})",
           "do {\n g(P{1});\n} while (co_await f());",
       }) {
    BOOST_TEST(first_trap(good) == "", good);
  }
  BOOST_TEST(
      await_traps("struct A : B {\n awaitable<void> f() override {\n  co_await g();\n }\n int x{3};\n};").empty());
  BOOST_TEST(await_traps("A::A(int x) : x_(x), y_{x} {}\nawaitable<void> A::f() const {\n co_await g();\n}\n").empty());
}

BOOST_AUTO_TEST_CASE(comments_and_literals_are_blanked) {
  BOOST_TEST(code_only("a /* b\n */ c; // d\n") == "a     \n    c;     \n");
  BOOST_TEST(code_only("f(\"x\\\"y\", 'z', 1'000);") == "f(\"    \", ' ', 1'000);");
  BOOST_TEST(code_only("f(R\"(a \" {)\");") == "f(\"        \");");
  BOOST_TEST(code_only("#define A \\\n  {\nb;") == "           \n   \nb;");
  BOOST_TEST(includes("#include \"a/b.h\"\n#include <c>\n// #include \"d\"\n").size() == 2U);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::house
