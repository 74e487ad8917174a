// The Boost.Test runner of this folder: engines that come out of staging tracks for their turn, and go home.
#define BOOST_TEST_MODULE yard
#include <boost/test/unit_test.hpp>
