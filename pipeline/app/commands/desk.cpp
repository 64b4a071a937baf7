// papillote desk: the page in the browser, served on this machine alone.
#include <fmt/format.h>

#include <atomic>
#include <chrono>
#include <iostream>
#include <memory>
#include <thread>

#include "pipeline/app/clock.h"
#include "pipeline/app/command.h"
#include "pipeline/app/craft.h"
#include "pipeline/app/trouble.h"
#include "pipeline/review/server.h"
#include "pipeline/run/stop.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string collection;
  int port = 0;
};

ExitCode run(const Asked& asked) {
  auto desk = review::Desk::open(asked.collection, desk_craft(asked.collection));
  if (!desk.ok()) return said(desk.failure());
  auto server = review::Server::bind(std::move(desk).value(), asked.port);
  if (!server.ok()) return said(server.failure());
  std::cout << server->address() << std::endl;
  std::cerr << "Open this address in a browser on this machine; it is good until this command ends. Ctrl-C ends it.\n";
  const run::StopSignal stop;
  std::atomic<bool> over{false};
  std::thread watch([&] {
    while (!stop.asked() && !over) std::this_thread::sleep_for(std::chrono::milliseconds(100));
    server->stop();
  });
  server->serve();
  over = true;
  watch.join();
  return kAllDone;
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--port", asked->port, "Port on this machine; 0 takes any that is free.")
      ->check(CLI::Range(0, 65535))
      ->capture_default_str();
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command desk;
const Command desk{"desk", "Find", "Search, read, correct, look after, pick and move envelopes on a page in the browser.",
                   "Serves on 127.0.0.1 alone and prints the address with a key that is new each time; it opens nothing by itself and\n"
                   "works without a network. From another machine: ssh -L 8123:127.0.0.1:8123 and --port 8123.\n"
                   "Example: papillote desk --collection tins",
                   setup};

}  // namespace papillote::app::commands
