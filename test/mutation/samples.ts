/** What `npm run mutation` printed for the samples drawn so far, and what reading their survivors showed. */
export interface MutationSample {
  readonly seeds: string;
  readonly date: string;
  readonly commit: string;
  /** What was drawn from, or how long tests might take, where that is not the default. */
  readonly limits?: string;
  /** Mutants tried and killed by folder of src/core. */
  readonly folders: Readonly<Record<string, readonly [tried: number, killed: number]>>;
  /** Survivors of which reading showed that no input can tell them from the program. */
  readonly equalCount: number;
}

export const MUTATION_SAMPLES: readonly MutationSample[] = [
  {
    seeds: "11, 12",
    date: "2026-11-28",
    commit: "8cc0285, a5d9824",
    folders: {
      "(top)": [2, 0],
      battery: [6, 4],
      detection: [25, 17],
      estimation: [24, 15],
      live: [6, 6],
      noise: [15, 11],
      plan: [4, 3],
      quantity: [2, 1],
      series: [16, 13],
      statistics: [17, 13],
      trend: [17, 14],
      verdict: [6, 5],
    },
    equalCount: 18,
  },
  {
    seeds: "13",
    date: "2026-11-28",
    commit: "f348c51",
    folders: {
      battery: [3, 3],
      detection: [19, 14],
      estimation: [12, 8],
      live: [1, 1],
      noise: [5, 5],
      plan: [4, 3],
      series: [11, 11],
      statistics: [6, 5],
      trend: [4, 3],
      verdict: [3, 3],
    },
    equalCount: 4,
  },
  {
    seeds: "14",
    date: "2026-11-28",
    commit: "f348c51",
    limits: "`--files estimation,quantity,battery,statistics,analyze --tests 15`",
    folders: { battery: [4, 4], estimation: [15, 12], quantity: [1, 1], statistics: [11, 9] },
    equalCount: 2,
  },
  {
    seeds: "15",
    date: "2026-11-29",
    commit: "2d9f5c9",
    folders: {
      battery: [3, 2],
      detection: [27, 18],
      estimation: [16, 14],
      live: [2, 0],
      noise: [5, 4],
      plan: [3, 2],
      series: [8, 5],
      statistics: [7, 4],
      trend: [5, 5],
      verdict: [4, 3],
    },
    equalCount: 10,
  },
  {
    seeds: "16",
    date: "2026-11-29",
    commit: "0e810a8",
    folders: {
      "(top)": [1, 0],
      battery: [2, 2],
      detection: [15, 13],
      estimation: [7, 6],
      live: [2, 2],
      noise: [5, 3],
      plan: [1, 1],
      series: [6, 4],
      statistics: [5, 5],
      trend: [8, 6],
      verdict: [4, 4],
    },
    equalCount: 6,
  },
  {
    seeds: "17",
    date: "2026-11-29",
    commit: "efebefe",
    folders: {
      battery: [4, 4],
      detection: [35, 28],
      estimation: [19, 15],
      live: [1, 1],
      noise: [7, 5],
      plan: [9, 7],
      quantity: [1, 0],
      series: [12, 10],
      statistics: [11, 10],
      trend: [15, 14],
      verdict: [6, 5],
    },
    equalCount: 5,
  },
];
