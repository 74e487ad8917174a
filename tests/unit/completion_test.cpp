// Completion scripts, made for a small invented program and run by the shells themselves.
#include "daemon/completion.h"

#include <CLI/CLI.hpp>
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <stdexcept>

#include "daemon/command_tree.h"
#include "tests/shell_run.h"

using namespace lapwright;

namespace {

/// "signalbox": subcommands in subcommands, options of each kind, arguments that repeat, something hidden.
struct Signalbox {
  Signalbox() {
    box.set_help_flag("-h,--help", "what can be done");
    CLI::App* levers = box.add_subcommand("levers", "the lever frame's \"cabin\"");
    CLI::App* pull = levers->add_subcommand("pull", "pull one; it's heavy");
    pull->add_option("-n,--number", number, "which one")->type_name("NUMBER");
    pull->add_option("--colour", text, "its paint")->check(CLI::IsMember({"red", "black", "blue"}));
    pull->add_flag("--slowly", flag, "without a bang");
    levers->add_subcommand("oil", "oil all of them");
    CLI::App* book = box.add_subcommand("book", "read the train register");
    book->add_option("--year", text, "folder of the year")->type_name("FOLDER");
    book->add_option("page", text, "one page")->type_name("FILE");
    book->add_option("more", texts, "lamp colours for the rest")->check(CLI::IsMember({"white", "green"}));
    box.add_subcommand("secret", "not told")->group("");
    std::ofstream(folder.path() / "page 1.txt") << "09:14 Fellbeck\n";
    std::filesystem::create_directory(folder.path() / "1962");
  }

  /// What bash would offer, one a line, with the cursor at the last of the words.
  [[nodiscard]] std::string offered(const std::string& words) const {
    return shell_run("bash", "cd " + folder.path().string() + "\n" + completion_script(Shell::bash, {&box}) +
                                 "COMP_WORDS=(" + words +
                                 ")\nCOMP_CWORD=$((${#COMP_WORDS[@]} - 1))\n_signalbox\n"
                                 "for each in \"${COMPREPLY[@]}\"; do echo \"$each\"; done | sort");
  }

  CLI::App box{"a signal box", "signalbox"};
  int number = 0;
  bool flag = false;
  std::string text;
  std::vector<std::string> texts;
  TemporaryFolder folder;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(completion, Signalbox)

BOOST_AUTO_TEST_CASE(bash_completes_subcommands_options_and_their_values) {
  BOOST_TEST(offered("signalbox ''") == "book\nlevers\n");
  BOOST_TEST(offered("/usr/local/bin/signalbox le") == "levers\n");
  BOOST_TEST(offered("signalbox levers ''") == "oil\npull\n");
  BOOST_TEST(offered("signalbox levers pull --") == "--colour\n--help\n--number\n--slowly\n");
  BOOST_TEST(offered("signalbox levers pull -n ''").empty());
  BOOST_TEST(offered("signalbox levers pull -n 4 --colour b") == "black\nblue\n");
  BOOST_TEST(offered("signalbox levers pull --colour = r") == "red\n");  // as bash cuts --colour=r
  BOOST_TEST(offered("signalbox levers pull ''").empty());
  BOOST_TEST(offered("signalbox sec").empty());
}

BOOST_AUTO_TEST_CASE(bash_completes_names_on_the_disk_where_they_are_wanted) {
  BOOST_TEST(offered("signalbox book ''") == "1962\npage 1.txt\n");
  BOOST_TEST(offered("signalbox book p") == "page 1.txt\n");
  BOOST_TEST(offered("signalbox book --year ''") == "1962\n");
  BOOST_TEST(offered("signalbox book --year 1962 'page 1.txt' ''") == "green\nwhite\n");
  BOOST_TEST(offered("signalbox book 'page 1.txt' white white g") == "green\n");
}

BOOST_AUTO_TEST_CASE(zsh_offers_the_same) {
  const std::string script = completion_script(Shell::zsh, {&box});
  BOOST_TEST(script.starts_with("#compdef signalbox\n"));
  BOOST_TEST(script.find(R"('pull:pull one; it'\''s heavy')") != std::string::npos, script);
  if (!has_program("zsh")) {
    BOOST_TEST_MESSAGE("no zsh here: its script is not run");
    return;
  }
  // Its own functions need a terminal; what they would be asked for is printed instead.
  const std::string stand_ins = R"(
    compdef() { }; compset() { }; _files() { print "files $*" }; compadd() { shift; print -r -- "$*" }
    _describe() { for each in "${(P@)argv[-1]}"; do print -r -- "${each%%:*}"; done }
  )";
  const auto asked = [&](const std::string& words) {
    return shell_run("zsh -f",
                     stand_ins + script + "words=(" + words + ")\nCURRENT=$#words\nPREFIX=$words[-1]\n_signalbox\n");
  };
  BOOST_TEST(asked("signalbox ''") == "levers\nbook\n");
  BOOST_TEST(asked("signalbox levers pull --c") == "-h\n--help\n-n\n--number\n--colour\n--slowly\n");
  BOOST_TEST(asked("signalbox levers pull -n ''").empty());
  BOOST_TEST(asked("signalbox levers pull --colour=") == "red black blue\n");
  BOOST_TEST(asked("signalbox book --year ''") == "files -/\n");
  BOOST_TEST(asked("signalbox book ''") == "files \n");
  BOOST_TEST(asked("signalbox book page white ''") == "white green\n");
}

BOOST_AUTO_TEST_CASE(fish_offers_the_same) {
  const std::string script = completion_script(Shell::fish, {&box});
  BOOST_TEST(script.find(R"(-d 'pull one; it\'s heavy')") != std::string::npos, script);
  if (!has_program("fish")) {
    BOOST_TEST_MESSAGE("no fish here: its script is not run");
    return;
  }
  const auto offers = [&](const std::string& line) {
    return shell_run("env HOME=" + folder.path().string() + " fish --no-config",
                     "cd " + folder.path().string() + "\n" + script + "complete -C '" + line +
                         "' | string replace -r '\\t.*' ''\ntrue\n");
  };
  BOOST_TEST(offers("signalbox ") == "book\nlevers\n");
  BOOST_TEST(offers("signalbox levers ") == "oil\npull\n");
  BOOST_TEST(offers("signalbox levers pull --") == "--colour\n--help\n--number\n--slowly\n");
  BOOST_TEST(offers("signalbox levers pull -n ").empty());
  BOOST_TEST(offers("signalbox levers pull -n 4 --colour b") == "black\nblue\n");
  BOOST_TEST(offers("signalbox book p") == "page 1.txt\n");
  BOOST_TEST(offers("signalbox book page white ") == "green\nwhite\n");
}

BOOST_AUTO_TEST_CASE(two_programs_share_one_script) {
  CLI::App crossing("a level crossing", "crossing-gates");
  crossing.add_flag("--shut", flag, "shut them");
  const std::string script = completion_script(Shell::bash, {&crossing, &box});
  BOOST_TEST(script.find("complete -F _crossing_gates crossing-gates signalbox\n") != std::string::npos, script);
  const auto first = [&](const std::string& program, const std::string& word) {
    return shell_run("bash", script + "COMP_WORDS=(" + program + " " + word +
                                 ")\nCOMP_CWORD=1\n_crossing_gates\necho \"${COMPREPLY[0]}\"\n");
  };
  BOOST_TEST(first("crossing-gates", "--s") == "--shut\n");
  BOOST_TEST(first("signalbox", "l") == "levers\n");
}

BOOST_AUTO_TEST_CASE(every_shell_that_may_be_typed_is_known) {
  for (const char* name : {"bash", "zsh", "fish"}) {
    Wishes wishes;
    const auto tree = command_tree(CalledAs::lapwright, wishes);
    tree->parse(std::string("completion ") + name);
    BOOST_TEST((wishes.command == Command::completion));
    BOOST_TEST(completion_script(shell_named(wishes.shell), {tree.get()}).find("lapwright") != std::string::npos);
  }
  Wishes wishes;
  BOOST_CHECK_THROW(command_tree(CalledAs::lapwright, wishes)->parse(std::string("completion csh")), CLI::ParseError);
  BOOST_CHECK_THROW(static_cast<void>(shell_named("csh")), std::invalid_argument);
}

BOOST_AUTO_TEST_SUITE_END()
