// The Boost.Test runner of this folder: whole nights on the simulated railway.
#define BOOST_TEST_MODULE shifts
#include <boost/test/unit_test.hpp>
