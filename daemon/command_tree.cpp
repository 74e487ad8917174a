#include "daemon/command_tree.h"

#include <CLI/CLI.hpp>

namespace lapwright {
namespace {

/// A command that does something by itself.
CLI::App& add_command(CLI::App& parent, Command command, const char* name, const char* help, Wishes& wishes) {
  CLI::App* made = parent.add_subcommand(name, help);
  made->final_callback([&wishes, command] { wishes.command = command; });
  return *made;
}

void take_configuration(CLI::App& command, Wishes& wishes) {
  command.add_option("config", wishes.config, "configuration file")->required()->type_name("FILE");
}

void take_shift(CLI::App& command, Wishes& wishes) {
  command.add_option("--shift", wishes.shift, "another shift than the configuration's")->type_name("FILE");
}

void take_json(CLI::App& command, Wishes& wishes, const char* help) { command.add_flag("--json", wishes.json, help); }

void take_serving(CLI::App& command, Wishes& wishes) {
  command.add_option("--config,config", wishes.configs, "configuration file; several: one for each loop")
      ->required()
      ->type_name("FILE");
  take_shift(command, wishes);
  command.add_flag("--once", wishes.once, "end after the last engine");
  command.add_flag("--anew", wishes.anew, "begin the shift with its first engine, whatever was done before");
  command.add_option("--socket", wishes.socket, "control socket to listen at")->type_name("PATH");
  command.add_option("--record", wishes.record, "keep the traffic of all links in this file")->type_name("FILE");
}

/// What works on files alone.
void add_desk_work(CLI::App& app, Wishes& wishes) {
  CLI::App& rehearsing =
      add_command(app, Command::rehearse, "rehearse", "run the whole shift on a simulated railway, in seconds", wishes);
  take_configuration(rehearsing, wishes);
  take_shift(rehearsing, wishes);
  rehearsing.add_option("--seed", wishes.seed, "the simulated railway's luck")->type_name("NUMBER");
  rehearsing.add_option("--output", wishes.output, "folder for the reports")->type_name("FOLDER");
  CLI::App& configuring = *app.add_subcommand("config", "look a configuration over");
  configuring.require_subcommand(1);
  CLI::App& checking = add_command(configuring, Command::config_check, "check",
                                   "look for mistakes in it and in every record and sheet that it names", wishes);
  take_configuration(checking, wishes);
  take_shift(checking, wishes);
  take_configuration(
      add_command(configuring, Command::config_show, "show", "print every setting in use, defaults included", wishes),
      wishes);
  CLI::App& exporting =
      add_command(app, Command::export_passes, "export", "print every pass that was ever measured, as CSV", wishes);
  take_configuration(exporting, wishes);
  take_json(exporting, wishes, "everything that the journals hold, as one JSON document");
  add_command(app, Command::completion, "completion", "print the script that lets a shell complete these commands",
              wishes)
      .add_option("shell", wishes.shell, "whose script")
      ->required()
      ->type_name("SHELL")
      ->check(CLI::IsMember({"bash", "zsh", "fish"}));
}

/// What asks a running service.
void add_questions(CLI::App& app, Wishes& wishes) {
  CLI::App& status = add_command(app, Command::status, "status", "what the service is doing", wishes);
  take_json(status, wishes, "as one JSON document");
  CLI::App& watch = add_command(app, Command::watch, "watch", "follow the service until interrupted", wishes);
  CLI::App& doctor = add_command(app, Command::doctor, "doctor",
                                 "check links, board, sensor, gates and relay, and say what to do", wishes);
  take_json(doctor, wishes, "as one JSON document");
  CLI::App& halt = add_command(app, Command::halt, "halt", "halt the engine and make the track dead, at once", wishes);
  CLI::App& clear =
      add_command(app, Command::clear, "clear", "you have looked at what tripped: let the shift go on", wishes);
  for (CLI::App* command : {&status, &watch, &doctor, &halt, &clear}) {
    command->add_option("--socket", wishes.socket, "control socket of the service")->type_name("PATH");
  }
}

void take_engines(CLI::App& command, Wishes& wishes) {
  command.add_option("engines", wishes.engines, "names of the shift or fleet, or files of records")
      ->required()
      ->type_name("ENGINE");
  command.add_option("--sheet", wishes.sheet, "another target sheet than the engine's own")->type_name("FILE");
}

/// What changes the order of a running service's work.
void add_queue(CLI::App& app, Wishes& wishes) {
  CLI::App& queue = *app.add_subcommand("queue", "who has had a turn, who waits; or change that");
  queue.require_subcommand(0, 1);
  queue.final_callback([&queue, &wishes] {
    if (queue.get_subcommands().empty()) wishes.command = Command::queue;
  });
  take_json(queue, wishes, "as one JSON document");
  CLI::App& adding = add_command(queue, Command::queue_add, "add", "more engines, or other works on them", wishes);
  take_engines(adding, wishes);
  adding.add_option("--work", wishes.work, "what is to be done")
      ->type_name("WORK")
      ->check(CLI::IsMember({"tune", "check", "check-all", "restore", "undo"}));
  CLI::App& moving = add_command(queue, Command::queue_move, "move", "an entry to another place", wishes);
  moving.add_option("entry", wishes.entry, "its number in the queue")->required()->type_name("NUMBER");
  moving.add_option("place", wishes.place, "among those who wait; 1 is next")->required()->type_name("PLACE");
  CLI::App& cancelling = add_command(queue, Command::queue_cancel, "cancel",
                                     "take an entry out; one under way is brought to rest", wishes);
  cancelling.add_option("entry", wishes.entry, "its number in the queue")->required()->type_name("NUMBER");
  CLI::App& pausing = add_command(queue, Command::queue_pause, "pause", "no further engine begins", wishes);
  pausing.add_flag("--now", wishes.now, "the one under way is brought to rest, too, and will go on where it was");
  CLI::App& resuming = add_command(queue, Command::queue_resume, "resume", "go on after a pause", wishes);
  CLI::App& ready =
      add_command(app, Command::ready, "ready", "the engine that is waited for stands on the loop", wishes);
  ready.add_option("engine", wishes.engines, "its name, to be sure")->expected(0, 1)->type_name("ENGINE");
  CLI::App& checking = add_command(app, Command::check, "check",
                                   "measure engines without writing anything, and compare with their tune", wishes);
  take_engines(checking, wishes);
  checking.add_flag("--all", wishes.all, "every step instead of a spread of four");
  CLI::App& restoring = add_command(app, Command::restore, "restore", "put engines back after a decoder reset", wishes);
  take_engines(restoring, wishes);
  CLI::App& undoing =
      add_command(app, Command::undo, "undo", "put back what the decoder held before the latest work on it", wishes);
  take_engines(undoing, wishes);
  for (CLI::App* command :
       {&queue, &adding, &moving, &cancelling, &pausing, &resuming, &ready, &checking, &restoring, &undoing}) {
    command->add_option("--socket", wishes.socket, "control socket of the service")->type_name("PATH");
  }
}

}  // namespace

std::shared_ptr<CLI::App> command_tree(CalledAs name, Wishes& wishes) {
  const bool as_daemon = name == CalledAs::lapwrightd;
  auto app = std::make_shared<CLI::App>(
      "Lapwright tunes model railway engines by itself: it drives them past timing gates, rewrites the\n"
      "decoder's speed table and proves every speed step.",
      as_daemon ? "lapwrightd" : "lapwright");
  if (as_daemon) {
    take_serving(*app, wishes);
    app->final_callback([&wishes] { wishes.command = Command::serve; });
    return app;
  }
  app->require_subcommand(1);
  add_desk_work(*app, wishes);
  add_questions(*app, wishes);
  add_queue(*app, wishes);
  take_serving(
      add_command(*app, Command::serve, "serve", "run the shift in real time and stay; lapwrightd is the same", wishes),
      wishes);
  return app;
}

}  // namespace lapwright
