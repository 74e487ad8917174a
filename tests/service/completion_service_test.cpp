// The program's own completion script, as bash runs it.
#include <boost/test/unit_test.hpp>

#include "tests/shell_run.h"

namespace lapwright {
namespace {

std::string bash_offers(const std::string& program, const std::string& words) {
  const std::string asked = "source <(" LAPWRIGHT_PROGRAMS "/lapwright completion bash)\ncd " LAPWRIGHT_CONFIGS
                            "\nCOMP_WORDS=(" +
                            program + " " + words +
                            ")\nCOMP_CWORD=$((${#COMP_WORDS[@]} - 1))\n"
                            "\"$(complete -p " +
                            program +
                            " | cut -d' ' -f3)\"\n"
                            "printf '%s\\n' \"${COMPREPLY[@]}\" | sort\n";
  return shell_run("bash", asked);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(completion_of_the_program)

BOOST_AUTO_TEST_CASE(bash_knows_its_commands) {
  BOOST_TEST(bash_offers("lapwright", "config ''") == "check\nshow\n");
  BOOST_TEST(bash_offers("lapwright", "reh") == "rehearse\n");
  BOOST_TEST(bash_offers("lapwright", "config check dem") == "demo.json\n");
  BOOST_TEST(bash_offers("lapwright", "rehearse demo.json --se") == "--seed\n");
  BOOST_TEST(bash_offers("lapwright", "completion ''") == "bash\nfish\nzsh\n");
  BOOST_TEST(bash_offers("lapwrightd", "--o") == "--once\n");
  BOOST_TEST(bash_offers("lapwrightd", "--config dem") == "demo.json\n");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
