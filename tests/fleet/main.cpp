// The Boost.Test runner of this folder: a whole fleet in one shift, some of it in trouble, on the virtual clock.
#define BOOST_TEST_MODULE fleet
#include <boost/test/unit_test.hpp>
