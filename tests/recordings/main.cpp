// The Boost.Test runner of this folder: recorded traffic replayed against the real drivers.
#define BOOST_TEST_MODULE recordings
#include <boost/test/unit_test.hpp>
