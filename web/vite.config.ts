import { fileURLToPath } from 'node:url';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

const server = fileURLToPath(new URL('../server', import.meta.url));

/** The page is built once at start; in development vite serves it and hands every other address to the API. */
export default defineConfig({
  root: fileURLToPath(new URL('.', import.meta.url)),
  plugins: [svelte()],
  resolve: {
    alias: [
      { find: /^#core\/(.*)$/, replacement: `${server}/core/$1` },
      { find: /^#contract\/(.*)$/, replacement: `${server}/$1/contract.ts` },
    ],
  },
  build: { outDir: 'dist', emptyOutDir: true, target: 'es2023', sourcemap: true },
  server: {
    port: 4601,
    proxy: { '/api': { target: 'http://127.0.0.1:4600' }, '/socket.io': { target: 'http://127.0.0.1:4600', ws: true } },
  },
});
