// The Boost.Test runner of this folder: works on an engine that was tuned before, on the simulated railway.
#define BOOST_TEST_MODULE works
#include <boost/test/unit_test.hpp>
