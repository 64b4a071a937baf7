#include "pipeline/record/containers.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace papillote {
namespace {

using testing::AllOf;
using testing::HasSubstr;

TEST(Containers, SurviveTheirOwnTable) {
  Container full{.tin = "07, left",
                 .material = "tinplate",
                 .seal = "none",
                 .lining = "cork",
                 .wood = "oak",
                 .stands = "floor",
                 .light = "dark",
                 .chemicals = "crystals",
                 .temperature_c = {-5, 20},
                 .rh_percent = {40, 60.5},
                 .climate = "loggers/07.csv",
                 .heading = "Sarawak, 1909-11"};
  const std::vector<Container> containers{full, Container{.tin = "08"}};
  const auto read = containers_from_csv(containers_csv(containers), "containers.csv");
  ASSERT_TRUE(read.ok()) << read.failure().reason;
  EXPECT_EQ(*read, containers);
}

TEST(Containers, HaveABandWhereNoneIsGiven) {
  // source of the band: Auckland Museum entomology, list post, 2006
  const auto read = containers_from_csv("tin;seal\n7;tight\n", "containers.csv");
  ASSERT_TRUE(read.ok()) << read.failure().reason;
  ASSERT_EQ(read->size(), 1u);
  EXPECT_EQ(read->front().temperature_c, (Band{17, 19}));
  EXPECT_EQ(read->front().rh_percent, (Band{45, 55}));
  EXPECT_TRUE(containers_from_csv("# nothing yet\n", "c")->empty());
}

TEST(Containers, NameTheLineThatIsWrong) {
  const auto reason = [](const std::string& table) {
    const auto read = containers_from_csv(table, "my/containers.csv");
    return read.ok() ? std::string() : read.failure().reason + " " + read.failure().remedy;
  };
  EXPECT_THAT(reason("tin,seal\n07,tight\n08,shut\n"),
              AllOf(HasSubstr("my/containers.csv, line 3"), HasSubstr("shut"), HasSubstr("none, loose, tight")));
  EXPECT_THAT(reason("tin,sael\n"), HasSubstr("sael"));
  EXPECT_THAT(reason("seal\nnone\n"), HasSubstr("tin"));
  EXPECT_THAT(reason("tin,seal\n,none\n"), HasSubstr("line 2"));
  EXPECT_THAT(reason("tin\n07\n07\n"), HasSubstr("second time"));
  EXPECT_THAT(reason("tin,rh_percent\n07,55-45\n"), HasSubstr("no band"));
  EXPECT_THAT(reason("tin,rh_percent\n07,50\n"), HasSubstr("no band"));
}

}  // namespace
}  // namespace papillote
