//! No output is an input, or another output.

use super::*;

#[test]
fn no_output_is_an_input() {
    let mut trials = 0;
    for command in commands() {
        for input in inputs(command) {
            for (output, use_) in outputs(command) {
                for &way in WAYS {
                    // The file that `learn` starts from may be the one it writes: it adds to it.
                    // Another name of it on the disk would not be added to.
                    if (command, input) == ("learn", "add") && way != Way::HardLink {
                        continue;
                    }
                    let mut bench = Bench::new(command);
                    let what = format!("{command}: {output} over {input}, {way:?}");
                    let name = match use_ {
                        OutFolder(folder, file) if !way.links() => Some(format!("{folder}/{file}")),
                        _ => None,
                    };
                    let Some(file) = place_input(&mut bench, input, name.as_deref()) else {
                        continue;
                    };
                    let value = match use_ {
                        OutFolder(folder, of) => {
                            let named = way.name(&bench, &file, &format!("{folder}/{of}"));
                            named.strip_suffix(&format!("/{of}")).expect("in a folder").to_owned()
                        }
                        _ => way.name(&bench, &file, "alias"),
                    };
                    bench.values.insert(output, value);
                    bench.refused("would be written over the", &what);
                    trials += 1;
                }
            }
        }
    }
    println!("{trials} pairs of an input and an output");
    assert!(trials > 200, "{trials}");
}

#[test]
fn no_output_is_another() {
    let mut trials = 0;
    for command in commands() {
        let all = outputs(command);
        for (at, &(first, one)) in all.iter().enumerate() {
            for &(second, other) in &all[at + 1..] {
                for &way in WAYS {
                    let mut bench = Bench::new(command);
                    let what = format!("{command}: {first} and {second}, {way:?}");
                    let file = match one {
                        OutFolder(folder, file) => format!("{folder}/{file}"),
                        Out(name) | In(name) => name.to_owned(),
                    };
                    // A link needs something to lead to; there it is, already, and may be replaced.
                    if way.links() {
                        bench.write(&file, "");
                    }
                    let value = match other {
                        OutFolder(folder, of) if way.links() => {
                            way.name(&bench, &file, &format!("{folder}/{of}"));
                            folder.to_owned()
                        }
                        // The other way about: the file in the folder is named by the first option.
                        OutFolder(folder, of) => {
                            fs::create_dir_all(bench.at(folder)).expect("a folder");
                            let named = way.name(&bench, &format!("{folder}/{of}"), "alias");
                            bench.values.insert(first, named);
                            folder.to_owned()
                        }
                        _ => way.name(&bench, &file, "alias"),
                    };
                    bench.values.insert(second, value);
                    bench.refused("written into one file", &what);
                    trials += 1;
                }
            }
        }
    }
    println!("{trials} pairs of outputs");
    assert!(trials >= 40, "{trials}");
    // A file cannot be the folder of others.
    let mut bench = Bench::new("check");
    bench.values.insert("report", "pictures".into());
    bench.refused("written into one file", "a report and a folder of pictures");
}
