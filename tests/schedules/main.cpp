// The Boost.Test runner of this folder: random schedules of faults, each a job of its own in virtual time.
#define BOOST_TEST_MODULE schedules
#include <boost/test/unit_test.hpp>
